/*
 * The cycles on a Cortex-M3: vectors, start-up, a serial line, an end. Made for emulation (machine
 * lm3s6965evb); on your own board replace `put` and `finish`, and the memory map in cortex-m3.ld.
 */
#include <stdint.h>

#include "printer.h"

/* The first serial port, a PL011 (Arm DDI 0183, 3.3.1 and 3.3.3): data register, and queue-full flag. */
#define SERIAL_DATA (*(volatile uint32_t *)0x4000C000u)
#define SERIAL_FLAGS (*(volatile uint32_t *)0x4000C018u)
#define SERIAL_FULL (1u << 5)

extern uint32_t data_start, data_end, data_load, bss_start, bss_end, stack_lowest, stack_top;

/* What the stack holds until it is used. */
#define PAINT 0x5A5A5A5Au

void put(const char *bytes, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        while (SERIAL_FLAGS & SERIAL_FULL) {
        }
        SERIAL_DATA = (uint8_t)bytes[i];
    }
}

/* Ends the emulation by semihosting ("Semihosting for AArch32 and AArch64", Arm, SYS_EXIT): 0 where `failed`
 * is 0, else 1. */
static _Noreturn void finish(int failed)
{
    register uint32_t operation __asm__("r0") = 0x18;
    register uint32_t reason __asm__("r1") = failed ? 0x20023 : 0x20026;
    for (;;) {
        __asm__ volatile("bkpt 0xab" : "+r"(operation) : "r"(reason) : "memory");
    }
}

/* How much of the stack was ever used, in bytes, to the serial line. */
static void put_stack(void)
{
    const volatile uint32_t *word = &stack_lowest;
    char digits[] = "stack used: ..... bytes\n";
    while (*word == PAINT) {
        word++;
    }
    uint32_t used = (uint32_t)((uintptr_t)&stack_top - (uintptr_t)word);
    for (int i = 4; i >= 0; i--) {
        digits[12 + i] = (char)('0' + used % 10);
        used /= 10;
    }
    put(digits, sizeof digits - 1);
}

/* Everything below what is in use now. */
static void paint(void)
{
    volatile uint32_t *word = &stack_lowest;
    uint32_t here;
    __asm__ volatile("mov %0, sp" : "=r"(here));
    while ((uintptr_t)word < here - 64) {
        *word++ = PAINT;
    }
}

_Noreturn void reset(void)
{
    volatile uint32_t *to = &data_start;
    const volatile uint32_t *from = &data_load;
    while (to < &data_end) {
        *to++ = *from++;
    }
    for (to = &bss_start; to < &bss_end; to++) {
        *to = 0;
    }
    paint();
    const int failed = run_cycles();
    put_stack();
    finish(failed);
}

static _Noreturn void fault(void)
{
    finish(1);
}

/* Initial stack, reset, and the other exceptions (Armv7-M Architecture Reference Manual, B1.5.2). */
typedef void handler(void);
__attribute__((section(".vectors"), used)) static const struct {
    uint32_t *stack;
    handler *handlers[15];
} vectors = {
    &stack_top,
    {reset, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault},
};
