/* An invented machine, and cycles on it: what is the same on a board and on a host. */
#ifndef PRINTER_H
#define PRINTER_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Where the lines go: a serial line on a board, standard output on a host. Given by whoever links this. */
void put(const char *bytes, size_t length);

/* Runs all cycles; 0 where each ended as it had to. */
int run_cycles(void);

#ifdef __cplusplus
}
#endif

#endif
