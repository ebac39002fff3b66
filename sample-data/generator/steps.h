/* The steps of generating one practice, in order. Private to the generator. */
#ifndef RIDGETALLY_SAMPLE_STEPS_H
#define RIDGETALLY_SAMPLE_STEPS_H

#include "practice.h"
#include "random.h"

enum { RT_SAMPLE_MOUTH = 28 }; /* tooth positions used */

/* Who the patient is (patient.c). */
struct rt_sample_patient rt_sample_draw_patient(struct rt_sample_random *random,
                                                const struct rt_sample_settings *settings, int number);

/* How many implants the patient gets, 1..8 (patient.c). */
int rt_sample_cluster_size(struct rt_sample_random *random);

/* The day of moving away, dying or silently staying away (patient.c). */
void rt_sample_draw_departure(struct rt_sample_random *random, const struct rt_sample_settings *settings,
                              struct rt_sample_patient *patient);

/* The operation (surgery.c). */
struct rt_sample_implant rt_sample_draw_surgery(struct rt_sample_random *random,
                                                const struct rt_sample_settings *settings,
                                                const struct rt_sample_patient *patient, int tooth, int turn,
                                                int placed_on);

/* Healing, loading, failure (outcome.c). */
void rt_sample_draw_outcome(struct rt_sample_random *random, const struct rt_sample_settings *settings,
                            const struct rt_sample_patient *patient, struct rt_sample_implant *implant);

/* Nothing after the implant's end, and nothing the practice cannot have seen, stays recorded (outcome.c). */
void rt_sample_forget_later_steps(struct rt_sample_implant *implant, int last_seen);

/* Films and reviews of the implants first..last-1, which were placed in one session (visits.c). */
enum rt_status rt_sample_add_visits(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                    size_t first, size_t last, struct rt_error *error);

/* Events of the patient and of the implants first..last-1 (events.c). */
enum rt_status rt_sample_add_events(struct rt_sample_random *random, struct rt_sample_practice *practice,
                                    size_t patient, size_t first, size_t last, struct rt_error *error);

/* The last day the patient can be seen, at most the cut. */
int rt_sample_last_day(const struct rt_sample_settings *settings, const struct rt_sample_patient *patient);

/* day, or the Monday after it when it falls on a weekend. */
int rt_sample_working_day(int day);

/* Append one element; practice keeps ownership. */
enum rt_status rt_sample_add_followup(struct rt_sample_practice *practice,
                                      const struct rt_sample_followup *followup, struct rt_error *error);
enum rt_status rt_sample_add_event(struct rt_sample_practice *practice, const struct rt_sample_event *event,
                                   struct rt_error *error);

#endif
