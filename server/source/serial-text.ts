/** An error of the operating system about a serial port, as the end of a sentence and what to do. */
export function serialText(message: string): string {
  if (/cannot lock port|resource temporarily unavailable|resource busy|access denied/i.test(message)) {
    return 'it is in use by another program; close that (a serial monitor?)';
  }
  if (/no such file|cannot find|file not found|no such device/i.test(message)) {
    return 'there is no such port; is the cable plugged in?';
  }
  if (/permission denied|eacces/i.test(message)) {
    return 'you have no permission to open it; add yourself to the group dialout (sudo usermod -aG dialout "$USER"), then log in again';
  }
  if (/bad file descriptor|disconnected|ebadf|enxio|input\/output error|\beio\b/i.test(message)) {
    return 'the connection was lost; was the cable unplugged?';
  }
  if (/inappropriate ioctl|not a tty|enotty/i.test(message)) return 'it is not a serial port';
  if (/invalid argument|baud/i.test(message)) return `the port does not accept these settings (${message})`;
  return message.replace(/^(?:Error: )+/, '');
}
