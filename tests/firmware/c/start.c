/* What a Cortex-M3 needs before main: the vector table, initialised data, and a painted stack. */
#include <stdint.h>

extern uint32_t data_begin, data_end, data_stored, bss_begin, bss_end, stack_top;
extern int main(void);
void reset(void);

/* What the stack holds where it never was; the same as in the receiver in Rust. */
#define PAINT 0xCCCCCCCCU

static void stop(void)
{
    for (;;)
        ;
}

__attribute__((section(".vectors"), used)) static void *const vectors[16] = {
    &stack_top, (void *)reset, (void *)stop, (void *)stop, (void *)stop, (void *)stop, (void *)stop, 0,
    0, 0, 0, (void *)stop, (void *)stop, 0, (void *)stop, (void *)stop
};

__attribute__((naked, noreturn)) void reset(void)
{
    /* In assembler: no stack may be in use while it is painted. */
    __asm volatile("ldr r0, =bss_end\n ldr r1, =stack_top\n ldr r2, =0xCCCCCCCC\n"
                   "1: cmp r0, r1\n bhs 2f\n stmia r0!, {r2}\n b 1b\n2:\n"
                   "ldr r0, =data_begin\n ldr r1, =data_end\n ldr r2, =data_stored\n"
                   "3: cmp r0, r1\n bhs 4f\n ldmia r2!, {r3}\n stmia r0!, {r3}\n b 3b\n4:\n"
                   "ldr r0, =bss_begin\n ldr r1, =bss_end\n movs r2, #0\n"
                   "5: cmp r0, r1\n bhs 6f\n stmia r0!, {r2}\n b 5b\n6:\n"
                   "bl main\n7: b 7b\n");
}

/* Deepest that the stack ever was, bytes. */
uint32_t stack_depth(void)
{
    const uint32_t *word = &bss_end;
    while (word < &stack_top && *word == PAINT)
        word++;
    return (uint32_t)((uintptr_t)&stack_top - (uintptr_t)word);
}
