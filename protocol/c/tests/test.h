/* What the parts of the test share. */
#ifndef TEST_H
#define TEST_H

#include "benchmast.h"

struct bytes {
    const uint8_t *at;
    size_t length;
};

/* Count a check that holds, or print where and about what it fails, and count that. */
void check_that(int holds, const char *condition, const char *about, const char *file, int line);
#define CHECK(condition, about) check_that((condition) != 0, #condition, (about), __FILE__, __LINE__)

/* Whether two events, readings, settings say the same, member by member: padding may differ. */
int same_event(const benchmast_event *one, const benchmast_event *other);
int same_packet(const benchmast_packet *one, const benchmast_packet *other);
int same_identity(const benchmast_identity *one, const benchmast_identity *other);

void run_vectors(void);
void run_misuse(void);
void run_noise(void);

#endif
