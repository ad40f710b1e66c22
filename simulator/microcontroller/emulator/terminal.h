/* The cable: the board's serial output as a pseudo-terminal, found under a symbolic link. */
#ifndef TERMINAL_H
#define TERMINAL_H

#include <stdbool.h>
#include <stdint.h>

/* Set the path of the link. False (with an error on stderr) = something other than a link is there. */
bool terminal_choose_link(const char *link_path);

/* Plug in the cable: a new pseudo-terminal with a link to it. False (with an error on stderr) = it failed. */
bool terminal_plug(void);

/* Unplug the cable: a reader gets a hang-up, and the link is removed. */
void terminal_unplug(void);

bool terminal_is_plugged(void);

/* Name of the device, such as /dev/pts/3; "" while unplugged. */
const char *terminal_device(void);

/* Add a byte from the board. */
void terminal_send(uint8_t byte);

/* Pass the bytes to the reader as far as it accepts them; drop them without a reader. To be called often. */
void terminal_flush(void);

/* Bytes that reached the pseudo-terminal, and bytes lost while unplugged, unread or beyond the backlog. */
uint64_t terminal_bytes_delivered(void);
uint64_t terminal_bytes_lost(void);

#endif
