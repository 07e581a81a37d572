/* The least that any program can take from a stick event to the line: reads an event, writes a frame's worth of bytes, and
 * does nothing else. What the machine itself costs, to hold the daemon's latency against.
 *
 *   bench-floor EVENT-NODE PORT */
#include <fcntl.h>
#include <linux/input.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

/* A velocity frame of three axes, roughly. */
#define FRAME_BYTES 24

int main(int count, char **words)
{
    char frame[FRAME_BYTES];
    struct input_event events[64];
    struct termios raw;

    if (count != 3) {
        fprintf(stderr, "bench-floor EVENT-NODE PORT\n");
        return 2;
    }
    int pad = open(words[1], O_RDONLY | O_NONBLOCK);
    int port = open(words[2], O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (pad < 0 || port < 0 || tcgetattr(port, &raw) != 0) {
        perror("bench-floor");
        return 1;
    }
    cfmakeraw(&raw);
    tcsetattr(port, TCSANOW, &raw);
    memset(frame, 1, sizeof frame);
    if (write(port, "\0", 1) != 1) /* says that it is ready */
        return 1;

    struct pollfd ready = { .fd = pad, .events = POLLIN };
    while (poll(&ready, 1, -1) == 1) {
        ssize_t size = read(pad, events, sizeof events);
        for (ssize_t i = 0; i < size / (ssize_t)sizeof *events; i++) {
            if (events[i].type == EV_ABS && events[i].value != 0 && write(port, frame, sizeof frame) < 0)
                return 1;
        }
        if (size == 0)
            return 0;
    }
    return 1;
}
