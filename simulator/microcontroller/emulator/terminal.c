#define _GNU_SOURCE
#include "terminal.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#define BACKLOG_BYTES 65536 /* about as much as an operating system buffers for a slow reader */

static char link_path[PATH_MAX];
static char device[64];
static int board_end = -1;

static uint8_t backlog[BACKLOG_BYTES];
static size_t backlog_length;
static uint64_t delivered, lost;

bool terminal_choose_link(const char *path) {
  struct stat found;
  if (strlen(path) + sizeof ".new" > sizeof link_path) {
    fprintf(stderr, "emulator: the link's path is too long: %s\n", path);
    return false;
  }
  if (lstat(path, &found) == 0 && !S_ISLNK(found.st_mode)) {
    fprintf(stderr, "emulator: %s exists and is not a symbolic link; choose another path\n", path);
    return false;
  }
  strcpy(link_path, path);
  return true;
}

/* Replace the link in one step, so that a reader always finds either the old device or the new one. */
static bool set_link(void) {
  char fresh[PATH_MAX];
  snprintf(fresh, sizeof fresh, "%.*s.new", (int)(sizeof fresh - sizeof ".new"), link_path);
  unlink(fresh);
  if (symlink(device, fresh) != 0 || rename(fresh, link_path) != 0) {
    fprintf(stderr, "emulator: can't make the link %s: %s\n", link_path, strerror(errno));
    unlink(fresh);
    return false;
  }
  return true;
}

/* Do not remove the link if another emulator has replaced it. */
static void remove_own_link(void) {
  char target[sizeof device];
  const ssize_t length = readlink(link_path, target, sizeof target - 1);
  if (length < 0) return;
  target[length] = 0;
  if (strcmp(target, device) == 0) unlink(link_path);
}

bool terminal_plug(void) {
  if (board_end >= 0) return true;

  struct termios mode;
  memset(&mode, 0, sizeof mode);
  cfmakeraw(&mode);
  mode.c_cflag |= CREAD | CLOCAL;
  cfsetspeed(&mode, B115200);

  int reader_end;
  if (openpty(&board_end, &reader_end, device, &mode, NULL) != 0) {
    fprintf(stderr, "emulator: can't open a pseudo-terminal: %s\n", strerror(errno));
    board_end = -1;
    return false;
  }
  fcntl(board_end, F_SETFL, O_NONBLOCK);
  fcntl(board_end, F_SETFD, FD_CLOEXEC);
  /* With the reader's end closed here, the terminal reports (POLLHUP) whether a reader has it open. */
  close(reader_end);
  if (!set_link()) {
    close(board_end);
    board_end = -1;
    return false;
  }
  return true;
}

void terminal_unplug(void) {
  if (board_end < 0) return;
  remove_own_link();
  close(board_end);
  board_end = -1;
  device[0] = 0;
  lost += backlog_length;
  backlog_length = 0;
}

bool terminal_is_plugged(void) { return board_end >= 0; }

const char *terminal_device(void) { return device; }

void terminal_send(uint8_t byte) {
  if (board_end >= 0 && backlog_length < sizeof backlog) {
    backlog[backlog_length++] = byte;
  } else {
    lost++;
  }
}

static bool has_reader(void) {
  struct pollfd end = {.fd = board_end, .events = POLLIN};
  return poll(&end, 1, 0) >= 0 && !(end.revents & POLLHUP);
}

void terminal_flush(void) {
  if (board_end < 0) return;

  if (!has_reader()) {
    lost += backlog_length; /* lost, as on a serial cable without a reader */
    backlog_length = 0;
    return;
  }

  /* The firmware receives nothing. Bytes from the other side are discarded, so that its buffer never fills up. */
  uint8_t ignored[256];
  while (read(board_end, ignored, sizeof ignored) > 0) {
  }

  if (backlog_length == 0) return;
  const ssize_t written = write(board_end, backlog, backlog_length);
  if (written > 0) {
    delivered += (uint64_t)written;
    backlog_length -= (size_t)written;
    memmove(backlog, backlog + written, backlog_length);
  } else if (written < 0 && errno != EAGAIN && errno != EIO) {
    fprintf(stderr, "emulator: can't write to %s: %s\n", device, strerror(errno));
    exit(1);
  }
}

uint64_t terminal_bytes_delivered(void) { return delivered; }

uint64_t terminal_bytes_lost(void) { return lost; }
