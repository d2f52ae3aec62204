/* The loop of locosim/journey/kernel/integrate.py in C, for a train without helpers and a boiler with steady pressure:
   the same steps, tables, records and sums, to see how near the compiled Python is to what C takes. */

#include <math.h>
#include <stdint.h>

enum { AT_ALLOWED_SPEED, ADHESION, CYLINDERS, STEAM, COASTING, BRAKING };
enum { ARRIVED, STALLED, LOW_PRESSURE, OUT_OF_WATER, OUT_OF_FUEL };
enum {
    ENERGY, ARRIVE, DEPART, PRESSURE, BOILER_WATER, FIRING, WATER_ON_ARRIVAL, FUEL_ON_ARRIVAL, WATER_ON_DEPARTURE,
    FUEL_ON_DEPARTURE, GRATE_FUEL, GRATE_ASH
};
enum { EFFORT, HELPER_EFFORT, TOTAL_RESISTANCE, BRAKE, CUTOFF, THROTTLE, CYLINDER_STEAM_RATE, FEED };
enum {
    INDICATED_WORK, HELPER_WORK, FRICTION_WORK, RESISTANCE_WORK, CURVE_WORK, GRAVITY_WORK, BRAKE_WORK,
    USED_SUPPLIES_ENERGY, FIRE_HEAT, FEED_HEAT, HEAT_IN_STEAM, RADIATION_LOSS, CYLINDER_STEAM, AUXILIARY_STEAM,
    SAFETY_VALVE_STEAM, FEED_WATER, FUEL_BURNED, WATER_TAKEN, FUEL_TAKEN, RETURNED_EXHAUST, FUEL_FIRED,
    FUEL_DROPPED, ASH_MADE
};

static const double GRAVITY = 9.80665, BREAKAWAY_SPEED = 6 * 0.44704, MAX_ACCELERATION = 1.5;
static const double MAX_WORK_RATIO = 0.25;
static const int MAX_SUBSTEPS = 64;
static const double ROUNDING_MARGIN = 1.0 - 1e-9;

typedef struct {
    /* The line: n steps between n + 1 nodes. */
    const double *distance, *envelope, *shutoff, *gravity, *grade, *curve, *adhesion, *steam_share, *max_cutoff;
    const double *dwell, *earliest_departure, *water_rate, *fuel_rate;
    /* The map: pressures, speeds, nodes of the control axis. */
    const double *map_effort, *map_steam, *map_throttles;
    const double *heat_table;
    double *nodes, *steps, *sums;
    int8_t *limits;
    int64_t n, pressures, speeds, controls, wide_open, heats, warm;
    double mass, rotating, a, b, c, a_contents, b_contents, wind, starting, starting_warm, cooling_time, rolling_start;
    double pressure_start, pressure_step, speed_step, cutoff_start, cutoff_step;
    double friction, friction_share, adhesive_weight, drifting_steam;
    double pressure, radiation_loss, firing_step, evaporation_heat, sustained_steam, max_burning, tender_water_ratio;
    double auxiliary_steam, blower_steam, ash_share;
    double time, water, burning, bed, tender_water, tender_fuel, tender_water_full, tender_fuel_full;
} Run;

typedef struct { int64_t k; double part; } Cell;
typedef struct { double total_resistance, effort, thrust_friction, place; int limit; } Forces;
typedef struct {
    double e_mid, e_next, total_resistance, effort, brake;
    int limit;
    double time, full_time, full_effort, place, e_full, later_effort;
    int full_limit;
} Step;
typedef struct { int64_t i; double contents, max_steam, starting; int64_t guess; } At;
typedef struct { double place, other; } Reading;

static inline double larger(double x, double y) { return x > y ? x : y; }
static inline double smaller(double x, double y) { return x < y ? x : y; }

static inline Cell cell_of(double at, double first, double step, int64_t count) {
    double place = smaller(larger((at - first) / step, 0.0), count - 1.0);
    int64_t k = (int64_t)place;
    if (k > count - 2) k = count - 2;
    return (Cell){k, place - k};
}

static inline double value_at(const Run *r, const double *table, Cell p, Cell s, int64_t k) {
    const double *low_row = table + (p.k * r->speeds + s.k) * r->controls + k;
    const double *high_row = low_row + r->speeds * r->controls;
    double low = low_row[0] * (1.0 - s.part) + low_row[r->controls] * s.part;
    double high = high_row[0] * (1.0 - s.part) + high_row[r->controls] * s.part;
    return low * (1.0 - p.part) + high * p.part;
}

static inline Reading reading(
    const Run *r, const double *wanted, const double *other, Cell p, Cell s, double most, int64_t guess
) {
    int64_t last = r->controls - 1, low = guess < 0 ? 0 : guess > last - 1 ? last - 1 : guess, stride = 1;
    double low_value = value_at(r, wanted, p, s, low);
    int64_t high = low;
    double high_value = low_value;
    while (low_value >= most && low > 0) {
        high = low, high_value = low_value;
        low = low - stride > 0 ? low - stride : 0;
        low_value = value_at(r, wanted, p, s, low);
        stride *= 2;
    }
    if (low_value >= most) return (Reading){0.0, value_at(r, other, p, s, 0)};
    while (high_value < most && high < last) {
        if (high > low) low = high, low_value = high_value;
        high = high + stride < last ? high + stride : last;
        high_value = value_at(r, wanted, p, s, high);
        stride *= 2;
    }
    if (high_value < most) return (Reading){(double)last, value_at(r, other, p, s, last)};
    while (high - low > 1) {
        int64_t middle = (low + high) / 2;
        double value = value_at(r, wanted, p, s, middle);
        if (value < most) low = middle, low_value = value;
        else high = middle, high_value = value;
    }
    double part = (most - low_value) / (high_value - low_value), there = value_at(r, other, p, s, low);
    return (Reading){low + part, there + part * (value_at(r, other, p, s, high) - there)};
}

static inline double firing_for_steam(const Run *r, double steam) {
    double heat = steam * r->evaporation_heat + r->radiation_loss;
    const double *table = r->heat_table;
    if (heat <= table[0]) return 0.0;
    int64_t low = 0, high = r->heats - 1;
    if (heat >= table[high]) return smaller(high * r->firing_step, r->max_burning);
    while (high - low > 1) {
        int64_t middle = (low + high) / 2;
        if (table[middle] <= heat) low = middle;
        else high = middle;
    }
    return smaller((low + (heat - table[low]) / (table[high] - table[low])) * r->firing_step, r->max_burning);
}

static inline double resisting_force(const Run *r, const At *at, double speed) {
    double air = speed + r->wind;
    double force = r->a + r->b * speed + r->c * air * fabs(air) + (r->a_contents + r->b_contents * speed) * at->contents;
    if (at->starting > 0.0 && speed <= BREAKAWAY_SPEED) {
        double part = speed / BREAKAWAY_SPEED;
        force = larger(force, at->starting * (1.0 - part) + smaller(r->rolling_start, at->starting) * part);
    }
    force += r->curve[at->i] + r->friction;
    return force + r->gravity[at->i] + at->contents * GRAVITY * r->grade[at->i];
}

static inline double curtius_kniffler(double speed) { return 7.5 / (3.6 * speed + 44.0) + 0.161; }

static inline Forces full_effort_forces(const Run *r, const At *at, Cell p, double energy) {
    double speed = sqrt(2.0 * larger(energy, 0.0));
    Cell s = cell_of(speed, 0.0, r->speed_step, r->speeds);
    Cell cut = cell_of(r->max_cutoff[at->i], r->cutoff_start, r->cutoff_step, r->controls - r->wide_open);
    int64_t k = r->wide_open + cut.k;
    Reading by_steam = reading(r, r->map_steam, r->map_effort, p, s, at->max_steam, at->guess);
    double here = value_at(r, r->map_effort, p, s, k), there = value_at(r, r->map_effort, p, s, k + 1);
    double effort = here + cut.part * (there - here);
    double place = k + cut.part;
    int limit = CYLINDERS;
    if (by_steam.place < place && by_steam.other < ROUNDING_MARGIN * effort)
        effort = by_steam.other, limit = STEAM, place = by_steam.place;
    double by_rail = r->adhesion[at->i] * (curtius_kniffler(speed) / curtius_kniffler(0.0)) * r->adhesive_weight;
    double by_adhesion = (by_rail + r->friction) / (1.0 - r->friction_share);
    if (effort > by_adhesion) effort = by_adhesion, limit = ADHESION;
    double thrust = r->friction_share * effort;
    return (Forces){resisting_force(r, at, speed) + thrust, effort, thrust, place, limit};
}

static inline double time_over(double h, double e, double e_next) {
    double speeds = sqrt(2.0 * e) + sqrt(2.0 * larger(e_next, 0.0));
    return speeds > 0.0 ? 2.0 * h / speeds : 0.0;
}

static inline Step shut(double h, double e, double e_mid, double e_next, double resistance, double brake) {
    int limit = brake > 0.0 ? BRAKING : COASTING;
    return (Step){e_mid, e_next, resistance, 0.0, brake, limit, time_over(h, e, e_next), 0.0, 0.0, 0.0, e, 0.0, limit};
}

static inline Step full(Forces forces, double e_mid, double e_next, double time) {
    return (Step){e_mid, e_next, forces.total_resistance, forces.effort, 0.0, forces.limit,
                  time, time, forces.effort, forces.place, e_next, 0.0, forces.limit};
}

static inline Step coast(const Run *r, const At *at, double e, double h, double inertia) {
    double top = r->envelope[at->i + 1];
    double e_mid = e - 0.5 * h * resisting_force(r, at, sqrt(2.0 * e)) / inertia;
    double resistance = resisting_force(r, at, sqrt(2.0 * larger(e_mid, 0.0)));
    double e_next = e - h * resistance / inertia;
    if (e_next <= top) return shut(h, e, e_mid, e_next, resistance, 0.0);
    e_mid = 0.5 * (e + top);
    resistance = resisting_force(r, at, sqrt(2.0 * e_mid));
    return shut(h, e, e_mid, top, resistance, larger((e - top) * inertia / h - resistance, 0.0));
}

static inline double gain_of(Forces forces, double h, double inertia) {
    return h / inertia * (forces.effort - forces.total_resistance);
}

static inline Step limited(const Run *r, const At *at, Forces forces, double e, double e_mid, double h, double inertia) {
    double top = r->shutoff[at->i + 1], start_top = r->shutoff[at->i], envelope = r->envelope[at->i + 1];
    double pull = forces.effort - forces.thrust_friction, without = forces.total_resistance - forces.thrust_friction;
    double part = 0.0, e_full = e;
    if (e < start_top) {
        double rise = gain_of(forces, h, inertia) - (top - start_top);
        part = rise > 0.0 ? smaller((start_top - e) / rise, 1.0) : 1.0;
        e_full = start_top + part * (top - start_top);
    }
    double needed = without + (top - e) * inertia / h, share = part, brake = 0.0;
    int limit = COASTING;
    if (needed <= 0.0 && top < envelope) {
        if (part <= 0.0) return coast(r, at, e, h, inertia);
        top = e + (part * pull - without) * h / inertia;
        if (top > envelope) brake = (top - envelope) * inertia / h, limit = BRAKING, top = envelope;
    } else if (needed > part * pull) share = needed / pull, limit = AT_ALLOWED_SPEED;
    else if (needed < part * pull) brake = part * pull - needed, limit = BRAKING;
    double full_time = time_over(part * h, e, e_full), time = full_time, later = 0.0;
    if (part < 1.0) {
        time += time_over((1.0 - part) * h, e_full, top);
        later = forces.effort * (share - part) / (1.0 - part);
    }
    return (Step){e_mid, top, without + share * forces.thrust_friction, share * forces.effort, brake, limit,
                  time, full_time, forces.effort, forces.place, e_full, later, forces.limit};
}

static inline Step at_full_effort(const Run *r, const At *at, Cell p, double e, double h, double inertia) {
    double start = e, time = 0.0, covered = 0.0, resistance = 0.0, effort = 0.0, e_mid = e;
    int count = MAX_SUBSTEPS;
    Forces forces = {0};
    for (int k = 0; k < count; k++) {
        forces = full_effort_forces(r, at, p, e);
        double gain = gain_of(forces, h, inertia);
        if (k == 0 && e + 0.5 * gain > 0.0) {
            double work = forces.total_resistance * h / (2.0 * (e + 0.5 * gain) * (r->mass + at->contents));
            count = (int)smaller(larger(ceil(work / MAX_WORK_RATIO), 1.0), MAX_SUBSTEPS);
        }
        double part = start > 0.0 ? 1.0 / count : (2.0 * k + 1.0) / ((double)count * count);
        e_mid = e + 0.5 * part * gain;
        double e_next = 2.0 * e_mid - e;
        if (e_mid > 0.0) {
            forces = full_effort_forces(r, at, p, e_mid);
            e_next = e + part * gain_of(forces, h, inertia);
        }
        if (e_mid <= 0.0 || e_next <= 0.0) {
            covered += e_next < e ? part * e / (e - e_next) : 0.0;
            return full(forces, 0.0, covered > 0.0 ? start - start / covered : e_next, 0.0);
        }
        covered += part;
        resistance += part * forces.total_resistance;
        effort += part * forces.effort;
        time += time_over(part * h, e, e_next);
        e = e_next;
    }
    Forces mean = {resistance, effort, 0.0, forces.place, forces.limit};
    return full(mean, count == 1 ? e_mid : 0.5 * (h / time) * (h / time), e, time);
}

static inline Step solve_step(const Run *r, const At *at, Cell p, double e, double h, double inertia) {
    double top = r->shutoff[at->i + 1], e_mid = 0.5 * (e + top);
    if (top - e < MAX_ACCELERATION * h) {
        Forces forces = full_effort_forces(r, at, p, e_mid);
        if (gain_of(forces, h, inertia) >= top - e) return limited(r, at, forces, e, e_mid, h, inertia);
    }
    Step step = at_full_effort(r, at, p, e, h, inertia);
    if (step.e_next <= top) return step;
    Forces mean = {step.total_resistance, step.effort, r->friction_share * step.effort, step.place, step.limit};
    return limited(r, at, mean, e, e_mid, h, inertia);
}

typedef struct { double steam, cutoff, throttle, place; } Setting;

static inline Setting setting_at(const Run *r, Cell p, Cell s, double place, double steam) {
    if (place >= r->wide_open)
        return (Setting){steam, r->cutoff_start + r->cutoff_step * (place - r->wide_open), 1.0, place};
    int64_t k = (int64_t)place;
    double here = value_at(r, r->map_throttles, p, s, k), there = value_at(r, r->map_throttles, p, s, k + 1);
    return (Setting){steam, r->cutoff_start, here + (place - k) * (there - here), place};
}

static inline Setting setting_for(const Run *r, const At *at, Cell p, double speed, double effort) {
    if (effort <= 0.0) return (Setting){r->drifting_steam, 0.0, 0.0, 0.0};
    Cell s = cell_of(speed, 0.0, r->speed_step, r->speeds);
    Reading set = reading(r, r->map_effort, r->map_steam, p, s, effort, at->guess);
    return setting_at(r, p, s, set.place, set.other);
}

static inline Setting engine_setting(const Run *r, const At *at, Cell p, const Step *step) {
    double speed = sqrt(2.0 * step->e_mid), share = step->full_time / step->time;
    if (share <= 0.0) return setting_for(r, at, p, speed, step->later_effort);
    Setting full = step->full_limit == STEAM
        ? setting_at(r, p, cell_of(speed, 0.0, r->speed_step, r->speeds), step->place, at->max_steam)
        : setting_for(r, at, p, speed, step->full_effort);
    if (share >= 1.0) return full;
    Setting later = setting_for(r, at, p, sqrt(step->e_full + step->e_next), step->later_effort);
    Setting longer = share > 0.5 ? full : later;
    longer.steam = share * full.steam + (1.0 - share) * later.steam;
    return longer;
}

/* Water and fuel for a time, booked. */
static inline void advance(Run *r, double cylinders, int shut, double dt, double *tender, double *fuel, double *ash,
                           double *burned, double *steam) {
    *steam = cylinders + r->auxiliary_steam + (shut ? r->blower_steam : 0.0);
    *burned = firing_for_steam(r, *steam);
    double *sums = r->sums;
    sums[CYLINDER_STEAM] += dt * cylinders;
    sums[AUXILIARY_STEAM] += dt * (*steam - cylinders);
    sums[FEED_WATER] += dt * *steam;
    sums[RETURNED_EXHAUST] += dt * *steam * (1.0 - r->tender_water_ratio);
    sums[FUEL_FIRED] += dt * *burned;
    sums[FUEL_BURNED] += dt * *burned;
    sums[ASH_MADE] += dt * r->ash_share * *burned;
    *ash += dt * r->ash_share * *burned;
    *tender -= dt * *steam * r->tender_water_ratio;
    *fuel -= dt * *burned;
}

/* Run once; the last node reached, or -1 - the cause where the run ends before the end of the line. */
int64_t run(Run *r) {
    int64_t n = r->n, guess = r->wide_open;
    double *nodes = r->nodes, *steps = r->steps, *sums = r->sums;
    double t = r->time, e = 0.0, tender = r->tender_water, fuel = r->tender_fuel, starting = r->starting;
    double burned = r->burning, ash = 0.0, steam = 0.0;
    Cell p = cell_of(r->pressure, r->pressure_start, r->pressure_step, r->pressures);
    for (int64_t i = 0; i <= n; i++) {
        nodes[ENERGY * (n + 1) + i] = e;
        nodes[ARRIVE * (n + 1) + i] = t;
        nodes[WATER_ON_ARRIVAL * (n + 1) + i] = tender;
        nodes[FUEL_ON_ARRIVAL * (n + 1) + i] = fuel;
        if (r->dwell[i] >= 0.0) {
            double wait = larger(r->dwell[i], r->earliest_departure[i] - t);
            if (r->water_rate[i] > 0.0) {
                double taken = larger(r->tender_water_full - tender, 0.0);
                wait = larger(wait, taken / r->water_rate[i]);
                sums[WATER_TAKEN] += taken;
                tender += taken;
            }
            if (r->fuel_rate[i] > 0.0) {
                double taken = larger(r->tender_fuel_full - fuel, 0.0);
                wait = larger(wait, taken / r->fuel_rate[i]);
                sums[FUEL_TAKEN] += taken;
                fuel += taken;
            }
            if (wait > 0.0) advance(r, 0.0, 1, wait, &tender, &fuel, &ash, &burned, &steam);
            wait = larger(wait, 0.0);
            t += wait;
            if (i > 0 || r->warm)
                starting = r->starting + (r->starting_warm - r->starting) * exp(-wait / r->cooling_time);
        }
        nodes[DEPART * (n + 1) + i] = t;
        nodes[PRESSURE * (n + 1) + i] = r->pressure;
        nodes[BOILER_WATER * (n + 1) + i] = r->water;
        nodes[FIRING * (n + 1) + i] = burned;
        nodes[GRATE_FUEL * (n + 1) + i] = r->bed;
        nodes[GRATE_ASH * (n + 1) + i] = ash;
        nodes[WATER_ON_DEPARTURE * (n + 1) + i] = tender;
        nodes[FUEL_ON_DEPARTURE * (n + 1) + i] = fuel;
        if (i == n) break;
        if (tender < 0.0) return -1 - OUT_OF_WATER;
        if (fuel < 0.0) return -1 - OUT_OF_FUEL;
        if (r->pressure < r->pressure_start) return -1 - LOW_PRESSURE;
        double h = r->distance[i + 1] - r->distance[i], contents = tender + fuel;
        double inertia = r->mass + contents + r->rotating;
        double allowed = larger(r->steam_share[i] * r->sustained_steam - r->auxiliary_steam, 0.0);
        At at = {i, contents, allowed, starting, guess};
        Step step = solve_step(r, &at, p, e, h, inertia);
        if (step.e_mid <= 0.0 || step.e_next < 0.0 || (step.e_next == 0.0 && r->envelope[i + 1] > 0.0))
            return -1 - STALLED;
        double dt = step.time;
        Setting setting = engine_setting(r, &at, p, &step);
        guess = (int64_t)setting.place;
        advance(r, setting.steam, step.effort <= 0.0, dt, &tender, &fuel, &ash, &burned, &steam);
        double grade_force = r->gravity[i] + contents * GRAVITY * r->grade[i];
        double friction = r->friction + r->friction_share * step.effort;
        sums[INDICATED_WORK] += step.effort * h;
        sums[FRICTION_WORK] += friction * h;
        sums[CURVE_WORK] += r->curve[i] * h;
        sums[GRAVITY_WORK] += grade_force * h;
        sums[RESISTANCE_WORK] += (step.total_resistance - grade_force - r->curve[i] - friction) * h;
        sums[BRAKE_WORK] += step.brake * h;
        sums[USED_SUPPLIES_ENERGY] += (contents - tender - fuel) * step.e_next;
        steps[EFFORT * n + i] = step.effort;
        steps[HELPER_EFFORT * n + i] = 0.0;
        steps[TOTAL_RESISTANCE * n + i] = step.total_resistance;
        steps[BRAKE * n + i] = step.brake;
        steps[CUTOFF * n + i] = setting.cutoff;
        steps[THROTTLE * n + i] = setting.throttle;
        steps[CYLINDER_STEAM_RATE * n + i] = setting.steam;
        steps[FEED * n + i] = steam;
        r->limits[i] = (int8_t)step.limit;
        t += dt;
        e = step.e_next;
        if (sqrt(2.0 * e) >= BREAKAWAY_SPEED) starting = 0.0;
    }
    return n;
}
