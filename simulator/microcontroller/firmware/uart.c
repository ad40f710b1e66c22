#include "uart.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

/* 256 bytes, so that 8-bit indices wrap automatically and a whole reading line fits. */
static volatile uint8_t queue[256];
static volatile uint8_t queue_head;
static volatile uint8_t queue_tail;

ISR(USART_UDRE_vect) {
  if (queue_head == queue_tail) {
    UCSR0B &= (uint8_t)~_BV(UDRIE0);
  } else {
    UDR0 = queue[queue_tail++];
  }
}

void uart_start(void) {
  /*
   * At 16 MHz, double speed and divider 17 result in 117647 baud, 2.1 % fast; normal speed would be 3.5 % slow.
   * The double-speed bit is set first, because an emulator calculates its rate when the divider is written.
   */
  UCSR0A = _BV(U2X0);
  UBRR0 = 16;
  UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
  UCSR0B = _BV(TXEN0);
}

void uart_put(uint8_t byte) {
  while ((uint8_t)(queue_head + 1) == queue_tail) {
    /* the transmit interrupt frees a byte within 87 us */
  }
  queue[queue_head] = byte;
  queue_head++;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { UCSR0B |= _BV(UDRIE0); }
}
