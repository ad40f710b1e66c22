/* The cable: the board's serial output as a pseudo-terminal, found under a symbolic link. */
#ifndef TERMINAL_H
#define TERMINAL_H

#include <stdbool.h>
#include <stdint.h>

/* Where the link will lie. False (with a sentence on stderr) if something else than a link is there. */
bool terminal_choose_link(const char *link_path);

/* Plugs the cable in: a new pseudo-terminal, the link set to it. False with a sentence on stderr if that fails. */
bool terminal_plug(void);

/* Pulls the cable: whoever has it open gets a hang-up, and the link is gone. */
void terminal_unplug(void);

bool terminal_is_plugged(void);

/* Name of the device, such as /dev/pts/3; "" while unplugged. */
const char *terminal_device(void);

/* Takes a byte from the board. */
void terminal_send(uint8_t byte);

/* Hands on what was taken, as far as the reader makes room; drops what nobody reads. Call it often. */
void terminal_flush(void);

/* Bytes that reached the pseudo-terminal, and bytes lost while unplugged, unread or beyond the backlog. */
uint64_t terminal_bytes_delivered(void);
uint64_t terminal_bytes_lost(void);

#endif
