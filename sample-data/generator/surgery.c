/* The operation: bone, depth, torque, tissue. */
#include "steps.h"

#include "ridgetally/base/date.h"

#include <math.h>

enum { FRONT_UPPER, BACK_UPPER, FRONT_LOWER, BACK_LOWER };

static int region(int tooth)
{
    bool front = tooth % 10 <= 3;
    return tooth < 30 ? (front ? FRONT_UPPER : BACK_UPPER) : front ? FRONT_LOWER : BACK_LOWER;
}

static int draw_density(struct rt_sample_random *random, int tooth)
{
    static const double by_region[4][RT_SAMPLE_DENSITIES] = {
        [FRONT_UPPER] = {4, 40, 46, 10},
        [BACK_UPPER] = {1, 18, 53, 28},
        [FRONT_LOWER] = {28, 54, 16, 2},
        [BACK_LOWER] = {8, 52, 36, 4},
    };
    return (int)rt_sample_choose(random, by_region[region(tooth)], RT_SAMPLE_DENSITIES);
}

/* The class an observer writes down: right with this probability, else a neighbour. */
static int observe_density(struct rt_sample_random *random, int density, double right)
{
    bool correct = rt_sample_chance(random, right);
    bool softer = rt_sample_chance(random, 0.5);
    if (correct)
        return density;
    if (density == 0)
        return 1;
    if (density == RT_SAMPLE_DENSITIES - 1)
        return density - 1;
    return softer ? density + 1 : density - 1;
}

static void draw_body(struct rt_sample_random *random, struct rt_sample_implant *implant)
{
    static const char *const lines[] = {"line-1", "line-2", "line-3"};
    static const double line_weights[] = {55, 30, 15};
    static const double diameters[] = {3.5, 4.0, 4.5, 5.0};
    static const double front[] = {55, 40, 5, 0};
    static const double back[] = {8, 47, 30, 15};
    static const double lengths[] = {8, 9, 10, 11, 12, 13};
    static const double length_weights[] = {12, 10, 38, 18, 14, 8};
    bool is_front = implant->tooth % 10 <= 3;
    implant->line = lines[rt_sample_choose(random, line_weights, 3)];
    implant->diameter_mm = diameters[rt_sample_choose(random, is_front ? front : back, 4)];
    implant->length_mm = lengths[rt_sample_choose(random, length_weights, 6)];
}

static void draw_tissue(struct rt_sample_random *random, struct rt_sample_implant *implant)
{
    double tissue = rt_sample_round(rt_sample_normal(random, 2.6, 0.8), 0.5);
    implant->tissue_mm = tissue < 1 ? 1 : tissue > 5 ? 5 : tissue;
    double buccal = rt_sample_round(rt_sample_normal(random, 1.9, 0.5), 0.1);
    double lingual = rt_sample_round(rt_sample_normal(random, 2.1, 0.5), 0.1);
    implant->wall_buccal_mm = buccal < 0.3 ? 0.3 : buccal;
    implant->wall_lingual_mm = lingual < 0.3 ? 0.3 : lingual;
}

static void draw_depth(struct rt_sample_random *random, const struct rt_sample_settings *settings,
                       const struct rt_sample_patient *patient, struct rt_sample_implant *implant)
{
    static const double usual[] = {0, 0.5, 1, 1.5, 2, 2.5};
    static const double weights[] = {4, 8, 34, 32, 19, 3};
    const struct rt_sample_truths *truths = &settings->truths;
    double free_choice = usual[rt_sample_choose(random, weights, 6)];
    double by_sum = rt_sample_round(4 - implant->tissue_mm, 0.5); /* tissue + depth = 4 mm */
    by_sum = by_sum < 0.5 ? 0.5 : by_sum > 2.5 ? 2.5 : by_sum;
    implant->planned_depth_mm = rt_sample_chance(random, 0.35) ? by_sum : free_choice;
    double miss = truths->depth_bias_mm[implant->operator_index] + patient->depth_effect_mm +
                  rt_sample_normal(random, 0, truths->depth_implant_sd_mm);
    implant->true_depth_mm = implant->planned_depth_mm + miss;
    bool heaped = rt_sample_chance(random, truths->heaped_share);
    implant->achieved_depth_mm = rt_sample_round(implant->true_depth_mm, heaped ? 0.5 : 0.1);
    implant->depth_from_film = rt_sample_chance(random, 0.10);
    if (implant->depth_from_film) /* a reading, with a reading's error */
        implant->achieved_depth_mm =
            rt_sample_round(implant->true_depth_mm + rt_sample_normal(random, 0, truths->reading_sd_mm), 0.1);
    double room = implant->length_mm + implant->true_depth_mm + rt_sample_between(random, 0.8, 5);
    implant->bone_height_mm = rt_sample_round(room, 0.5);
    if (implant->bone_height_mm < implant->length_mm + implant->achieved_depth_mm)
        implant->bone_height_mm += 0.5;
}

static void draw_torque(struct rt_sample_random *random, const struct rt_sample_settings *settings,
                        const struct rt_sample_patient *patient, struct rt_sample_implant *implant)
{
    const struct rt_sample_truths *truths = &settings->truths;
    double limit = truths->torque_limit_ncm[implant->operator_index];
    double bone = truths->torque_mean_ncm[implant->density] + patient->torque_effect_ncm +
                  rt_sample_normal(random, 0, truths->torque_implant_sd_ncm) + 3 * (implant->diameter_mm - 4);
    double noise = rt_sample_normal(random, 0, truths->torque_gain_sd_ncm);
    double height = 0.3 + 0.08 * (bone - limit) + rt_sample_normal(random, 0, 0.3);
    bool heaped = rt_sample_chance(random, truths->heaped_share);
    implant->stall_height_mm = implant->stall_torque_ncm = NAN;
    implant->stalled = bone > limit;
    double final = bone;
    if (implant->stalled) {
        /* a motor stalls at least a millimetre before the end: below that the surgeon does not notice */
        double least = 1.05 - implant->achieved_depth_mm;
        height = height < least ? least : height;
        implant->stall_height_mm = rt_sample_round(height < 0 ? 0 : height, 0.1);
        implant->stall_torque_ncm = limit;
        /* of the way as recorded: nothing can be held to a truth about a way nobody measured */
        double travel = implant->stall_height_mm + implant->achieved_depth_mm;
        final = limit + truths->torque_per_mm_ncm * travel + noise;
        final = final < limit ? limit : final;
    }
    /* the wrench gives way first; what is left is read and rounded */
    implant->torque_capped = final > truths->torque_cap_ncm;
    final = implant->torque_capped ? truths->torque_cap_ncm : rt_sample_round(final, heaped ? 5 : 1);
    implant->final_torque_ncm = final < 5 ? 5 : final;
    double isq =
        rt_sample_round(61 + 0.3 * (implant->final_torque_ncm - 35) + rt_sample_normal(random, 0, 6), 1);
    implant->isq = isq < 30 ? 30 : isq > 90 ? 90 : isq;
}

static void draw_choices(struct rt_sample_random *random, struct rt_sample_implant *implant)
{
    static const char *const timings[] = {"immediate", "early", "late", "healed"};
    static const double weights[] = {14, 12, 16, 58};
    bool low = implant->final_torque_ncm < 25 && !implant->torque_capped;
    implant->timing = timings[rt_sample_choose(random, weights, 4)];
    implant->graft = rt_sample_chance(random, implant->timing[0] == 'i' ? 0.7 : 0.22);
    implant->changed = rt_sample_chance(random, low ? 0.25 : 0.02);
    implant->dense_drilling = rt_sample_chance(random, implant->density_found == 0   ? 0.85
                                                       : implant->density_found == 1 ? 0.35
                                                                                     : 0.03);
    implant->next_size_possible = rt_sample_chance(random, 0.45);
    implant->two_stage = rt_sample_chance(random, low ? 0.85 : 0.4);
}

struct rt_sample_implant rt_sample_draw_surgery(struct rt_sample_random *random,
                                                const struct rt_sample_settings *settings,
                                                const struct rt_sample_patient *patient, int tooth, int turn,
                                                int placed_on)
{
    const struct rt_sample_truths *truths = &settings->truths;
    struct rt_sample_implant implant = {
        .tooth = tooth,
        .turn = turn,
        .placed_on = placed_on,
        .operator_index = patient->operator_index,
        .uncovered_on = RT_NO_DATE,
        .loaded_on = RT_NO_DATE,
        .ended_on = RT_NO_DATE,
        .fate = RT_STANDING,
    };
    draw_body(random, &implant);
    draw_tissue(random, &implant);
    implant.density = draw_density(random, tooth);
    implant.density_planned = observe_density(random, implant.density, truths->density_planned_right);
    implant.density_found = observe_density(random, implant.density, truths->density_found_right);
    draw_depth(random, settings, patient, &implant);
    draw_torque(random, settings, patient, &implant);
    draw_choices(random, &implant);
    double depth = implant.true_depth_mm - truths->centre_depth_mm;
    double tissue = implant.tissue_mm - truths->centre_tissue_mm;
    double smoking = patient->smoking == RT_CURRENT_SMOKER  ? truths->change_current_smoker_mm
                     : patient->smoking == RT_FORMER_SMOKER ? truths->change_former_smoker_mm
                                                            : 0;
    implant.change_12_mm = truths->change_mm + truths->change_per_depth * depth +
                           truths->change_per_tissue * tissue + truths->change_per_product * depth * tissue +
                           smoking + patient->change_effect_mm +
                           rt_sample_normal(random, 0, truths->change_implant_sd_mm);
    double short_of_sum = 4 - implant.tissue_mm - implant.true_depth_mm;
    double wall =
        implant.wall_buccal_mm < implant.wall_lingual_mm ? implant.wall_buccal_mm : implant.wall_lingual_mm;
    implant.change_12_mm -= truths->change_below_sum * (short_of_sum > 0 ? short_of_sum : 0);
    implant.change_12_mm += wall < 1.5 - 1e-9 ? truths->thin_wall_change_mm : 0;
    implant.yearly_change_mm =
        rt_sample_normal(random, truths->yearly_change_mm, truths->yearly_change_sd_mm);
    implant.side_difference_mm = rt_sample_normal(random, 0, 0.15);
    return implant;
}
