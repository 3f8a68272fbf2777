/* The cycles on a host: the bits to which a board's are held. */
#include <stdio.h>

#include "printer.h"

void put(const char *bytes, size_t length)
{
    fwrite(bytes, 1, length, stdout);
}

int main(void)
{
    return run_cycles();
}
