/* The test on a microcontroller: what it prints and its exit code go to the debugger, here the emulator. */
#include <stdlib.h>

extern void initialise_monitor_handles(void);
extern int test_main(void);

int main(void)
{
    initialise_monitor_handles();
    exit(test_main());
}
