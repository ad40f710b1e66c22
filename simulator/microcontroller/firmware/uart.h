/* Serial output, 115200 baud, 8 data bits, no parity, 1 stop bit. Nothing is received. */
#ifndef UART_H
#define UART_H

#include <stdint.h>

void uart_start(void);

/* Queue one byte; waits while the queue is full, so that none is lost. Interrupts must be enabled. */
void uart_put(uint8_t byte);

#endif
