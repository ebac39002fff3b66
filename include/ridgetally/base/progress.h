/*
 * Telling a waiting user how far long work is. The layers below the command line say what they do; what is shown, and whether
 * anything is, is decided there. Progress belongs to a store (store.h), so that whoever has the store can tell.
 */
#ifndef RIDGETALLY_BASE_PROGRESS_H
#define RIDGETALLY_BASE_PROGRESS_H

/* How far the work is. */
struct rt_progress_step {
    const char *doing; /* "reading implants.csv"; another pointer or text begins other work */
    double done;       /* in units; NaN = not counted */
    const char *unit;  /* "rows" */
    double share;      /* of the whole that is done, 0 to 1; NaN = not known */
};

struct rt_progress {
    /* May be called for every row: cheap when nothing is due to be drawn. */
    void (*show)(struct rt_progress *progress, const struct rt_progress_step *step);
    /* What was drawn is erased: the work is over, or something is to be printed. */
    void (*end)(struct rt_progress *progress);
    void (*release)(struct rt_progress *progress);
};

/* All of these do nothing when progress is NULL. */
static inline void rt_progress_show(struct rt_progress *progress, const char *doing, double done,
                                    const char *unit, double share)
{
    if (progress == 0)
        return;
    const struct rt_progress_step step = {doing, done, unit, share};
    progress->show(progress, &step);
}

static inline void rt_progress_end(struct rt_progress *progress)
{
    if (progress != 0)
        progress->end(progress);
}

static inline void rt_progress_release(struct rt_progress *progress)
{
    if (progress != 0)
        progress->release(progress);
}

#endif
