#include "cycle.h"

#include <math.h>
#include <string.h>

#include "mainstair/core/emission.h"

static const double pi = 3.14159265358979323846;

/* Current of a path driven by `drive` volts (> 0) through a resistance and its rectifier; slope:
 * di/ddrive.  *root is the square root of the rectifier's drop: in, a guess (0: none), out, what it
 * is. */
static double path_current(const struct cycle_path *p, double drive, double ohms, double siemens,
                           double *root, double *ret_slope)
{
	*ret_slope = 0.0;
	if (p->perveance <= 0.0) {
		if (drive <= p->drop_volts)
			return 0.0;
		*ret_slope = siemens;
		return (drive - p->drop_volts) * siemens;
	}
	/* y^2 + ohms i(y) = drive, i(y) = limit(perveance y^3): rising in y, convex up to the knee
	 * of the limit.  Past the knee Newton may go from end to end for ever: a step out of what
	 * is known of the root's place is halved. */
	double y = *root;
	double low = 0.0, high = (double)INFINITY;

	if (y <= 0.0 || y * y > drive)
		y = sqrt(drive);
	for (int i = 0; i < 60; i++) {
		const double square = y * y;
		double bend;
		const double amps = emission_limit_slope(p->perveance * square * y, p->saturation,
		                                         &bend);
		const double slope = 3.0 * p->perveance * square * bend; /* di/dy */
		const double by_drive = 1.0 / (2.0 * y + ohms * slope);  /* dy/ddrive */
		const double miss = square + ohms * amps - drive;
		const double step = miss * by_drive;
		double next = y - step;

		*ret_slope = slope * by_drive;
		if (step * step < 1e-8 * drive) { /* the next step would be its square */
			y = next * next < drive ? next : sqrt(drive);
			break;
		}
		if (miss > 0.0)
			high = y;
		else
			low = y;
		if (next <= 0.0)
			next = 0.1 * y;
		if (next * next > drive)
			next = sqrt(drive);
		y = next > low && next < high ? next :
			0.5 * (low + (high < (double)INFINITY ? high : 2.0 * sqrt(drive)));
	}
	/* what the drive leaves over is the current, so that the volts add up exactly */
	const double amps = (drive - y * y) * siemens;
	*root = y;
	return amps > 0.0 ? amps : 0.0;
}

/* A reservoir over one step of the implicit midpoint rule: mid = keep * (volts at the start) +
 * keep_sum * (those of both capacitors of a doubler) + drain + gain * (current into it). */
struct midpoint {
	double keep, keep_sum, drain;
	double gain;
	double cross;  /* doubler: and this times the current into the twin */
	double by_volts; /* d(mid)/d(start volts) without current; a doubler's twin goes along */
	double base;   /* the sample's mid without current */
};

static struct midpoint cap_midpoint(const struct cycle *c, int k, double step_s)
{
	const struct cycle_cap *cap = &c->caps[k];
	struct midpoint m = { 0 };

	if (cap->farad <= 0.0) {
		m.gain = 1.0 / cap->load_siemens;
		m.drain = -cap->load_amps * m.gain;
	} else if (cap->twin >= 0) {
		/* both capacitors of a doubler carry the same load, which sees their sum */
		const double beta = step_s / (2.0 * cap->farad);
		const double twin_beta = step_s / (2.0 * c->caps[cap->twin].farad);
		const double d = 1.0 + (beta + twin_beta) * cap->load_siemens;

		m.keep = 1.0;
		m.keep_sum = -beta * cap->load_siemens / d;
		m.drain = -beta * cap->load_amps / d;
		m.gain = beta * (1.0 - cap->load_siemens * beta / d);
		m.cross = -beta * twin_beta * cap->load_siemens / d;
		m.by_volts = 1.0 / (1.0 + 2.0 * beta * cap->load_siemens);
	} else {
		const double beta = step_s / (2.0 * cap->farad);
		const double d = 1.0 + beta * cap->load_siemens;

		m.keep = m.by_volts = 1.0 / d;
		m.gain = beta / d;
		m.drain = -beta * cap->load_amps / d;
	}
	return m;
}

/* What does not change over the samples of a span. */
struct span {
	int samples;
	double step_s;
	double divide;                  /* the line node's share of the line's volts, unloaded */
	double node_ohms, emf_ohms;     /* behind the line node, behind the emf */
	double turn_cos, turn_sin, lead_cos, lead_sin;
};

static struct span span_of(const struct cycle *c)
{
	const double step_rad = pi / CYCLE_HALF_SAMPLES;
	struct span s = { .samples = c->whole ? 2 * CYCLE_HALF_SAMPLES : CYCLE_HALF_SAMPLES,
	                  .step_s = 1.0 / (2.0 * CYCLE_HALF_SAMPLES * c->line_hz),
	                  .turn_cos = cos(step_rad), .turn_sin = sin(step_rad),
	                  .lead_cos = cos(c->emf_lead), .lead_sin = sin(c->emf_lead) };

	/* Linear loads on the line node join the line's own resistance (Thevenin). */
	s.divide = 1.0 / (1.0 + c->line_ohms * c->line_siemens);
	s.node_ohms = c->line_ohms * s.divide;
	s.emf_ohms = c->transformer ? s.node_ohms + c->primary_ohms : s.node_ohms;
	return s;
}

/* Sine and cosine of the line's phase, in the middle of a step. */
struct phase {
	double sin, cos;
};

static struct phase first_phase(void)
{
	return (struct phase){ sin(0.5 * pi / CYCLE_HALF_SAMPLES),
	                       cos(0.5 * pi / CYCLE_HALF_SAMPLES) };
}

static struct phase next_phase(const struct span *s, struct phase at)
{
	return (struct phase){ at.sin * s->turn_cos + at.cos * s->turn_sin,
	                       at.cos * s->turn_cos - at.sin * s->turn_sin };
}

static double magnetising_amps(const struct cycle *c, const struct span *s, struct phase at)
{
	const double flux = at.cos * s->lead_cos - at.sin * s->lead_sin; /* less its sign */
	const double cube = flux * flux * flux;

	return c->transformer ? -(c->mag_peak_linear * flux +
	                          c->mag_peak_ninth * cube * cube * cube) : 0.0;
}

/* Source volts of a path; *ret_sign: the direction in which its current loads what feeds it. */
static double source_volts(const struct cycle_path *p, double from, double *ret_sign)
{
	const double volts = p->ratio * from;

	if (p->polarity != 0) {
		*ret_sign = p->polarity;
		return p->polarity * volts;
	}
	*ret_sign = volts < 0.0 ? -1.0 : 1.0;
	return fabs(volts);
}

/* A path as one span sees it. */
struct live_path {
	double ohms, siemens; /* what its reservoir and choke put up over a step included */
	double lambda;        /* ohms of its choke's inductance over a step */
	bool alone;           /* no other path charges the same or the twin reservoir */
	double offset;        /* the sample's volts against it */
	double amps, slope, by_emf; /* what flows, and by its own drive and by the emf */
};

static void ready_paths(const struct cycle *c, const struct midpoint *mid, double step_s,
                        struct live_path *live)
{
	for (int p = 0; p < c->n_paths; p++) {
		const struct cycle_path *path = &c->paths[p];
		struct live_path *l = &live[p];

		*l = (struct live_path){ .ohms = path->winding_ohms + path->surge_ohms,
		                         .alone = true };
		if (path->cap >= 0) {
			const struct cycle_cap *cap = &c->caps[path->cap];

			l->ohms += mid[path->cap].gain;
			if (cap->choke_henry > 0.0) {
				l->lambda = 2.0 * cap->choke_henry / step_s;
				l->ohms += cap->choke_ohms + l->lambda;
			}
			for (int q = 0; q < c->n_paths; q++)
				if (q != p && (c->paths[q].cap == path->cap ||
				               (cap->twin >= 0 && c->paths[q].cap == cap->twin)))
					l->alone = false;
		}
		/* a shorted rectifier conducts both ways */
		if (path->short_siemens > 0.0)
			l->ohms += 1.0 / path->short_siemens;
		l->siemens = 1.0 / l->ohms;
	}
}

/* What the other paths into path p's reservoir (or a doubler's other one) add to its volts. */
static double shared_rise(const struct cycle *c, const struct midpoint *mid,
                          const struct live_path *live, int p)
{
	const int cap = c->paths[p].cap, twin = c->caps[cap].twin;
	double volts = 0.0;

	for (int q = 0; q < c->n_paths; q++)
		if (q != p && c->paths[q].cap == cap)
			volts += mid[cap].gain * live[q].amps;
		else if (twin >= 0 && c->paths[q].cap == twin)
			volts += mid[cap].cross * live[q].amps;
	return volts;
}

/* Current of every path with this emf; adds to the load on the emf and to its slope. */
static void all_paths(const struct cycle *c, const struct midpoint *mid, struct live_path *live,
                      double *root, double emf, double line_drive, double *load, double *load_slope)
{
	for (int p = 0; p < c->n_paths; p++) {
		const struct cycle_path *path = &c->paths[p];
		struct live_path *l = &live[p];
		double sign;
		double drive = l->offset +
			source_volts(path, path->on_line ? line_drive : emf, &sign);

		if (!l->alone && path->cap >= 0)
			drive -= shared_rise(c, mid, live, p);
		if (path->short_siemens > 0.0) {
			l->slope = l->siemens;
			l->amps = drive * l->siemens;
		} else if (drive <= 0.0) {
			l->amps = l->slope = l->by_emf = root[p] = 0.0;
			continue;
		} else {
			l->amps = path_current(path, drive, l->ohms, l->siemens, &root[p],
			                       &l->slope);
		}
		if (path->on_line)
			continue;
		l->by_emf = path->ratio * sign * l->slope;
		*load += path->ratio * sign * l->amps;
		*load_slope += path->ratio * path->ratio * l->slope;
	}
}

/* The emf of one sample, found from *emf on, and all that flows with it. */
static void solve_emf(const struct cycle *c, const struct span *s, const struct midpoint *mid,
                      struct live_path *live, double *root, double source, double line_drive,
                      double mag, double *emf, double *ret_through, double *ret_slope)
{
	double load = 0.0, slope = 0.0;

	for (int i = 0; i < 30; i++) {
		load = c->emf_siemens * *emf + mag;
		slope = c->emf_siemens;
		all_paths(c, mid, live, root, *emf, line_drive, &load, &slope);
		const double miss = source - s->emf_ohms * load - *emf;
		const double step = miss / (1.0 + s->emf_ohms * slope);

		*emf += step;
		if (fabs(step) < 3e-5 * c->line_peak) {
			/* a last step this small is as good along the tangent */
			for (int p = 0; p < c->n_paths; p++)
				live[p].amps += live[p].by_emf * step;
			load += slope * step;
			break;
		}
	}
	*ret_through = load;
	*ret_slope = slope;
}

/* One step of a choke: its current at the end, and how the end of the step depends on its start. */
static double step_choke(const struct cycle_cap *cap, const struct midpoint *mid, double step_s,
                         double into, double into_slope, double amps, double m[2][2])
{
	/* share of its own drive that the choke takes: next to 1 in full flow, none where a
	 * rectifier at its limit says what flows */
	const double reign = into_slope * 2.0 * cap->choke_henry / step_s;
	/* on past the middle of the step, the less so the more the rectifier rules: the plain
	 * midpoint rule would ring there */
	const double next = into + reign * (into - amps);
	const bool cut = next < 0.0; /* the rectifier lets no current back */

	m[0][0] = 2.0 * mid->by_volts * (1.0 - mid->gain * into_slope) - 1.0;
	m[0][1] = 2.0 * mid->gain * reign;
	m[1][0] = cut ? 0.0 : -(1.0 + reign) * into_slope * mid->by_volts;
	m[1][1] = cut ? 0.0 : reign * reign;
	return cut ? 0.0 : next;
}

/* slope = m slope */
static void chain(double m[2][2], double slope[2][2])
{
	for (int j = 0; j < 2; j++) {
		const double volts = slope[0][j], amps = slope[1][j];

		slope[0][j] = m[0][0] * volts + m[0][1] * amps;
		slope[1][j] = m[1][0] * volts + m[1][1] * amps;
	}
}

/* Reservoirs and chokes over one step. */
static void step_caps(const struct cycle *c, const struct midpoint *mid, double step_s,
                      const struct live_path *live, double emf_gives, struct cycle_state *state,
                      double *ret_volts, double *ret_choke_amps, struct cycle_end *end)
{
	double into[CYCLE_CAPS_MAX] = { 0 }, into_slope[CYCLE_CAPS_MAX] = { 0 };
	double into_by_emf[CYCLE_CAPS_MAX] = { 0 };

	for (int p = 0; p < c->n_paths; p++) {
		const int k = c->paths[p].cap;

		if (k < 0)
			continue;
		into[k] += live[p].amps;
		into_slope[k] += live[p].slope;
		into_by_emf[k] += live[p].by_emf;
	}
	for (int k = 0; k < c->n_caps; k++) {
		const struct cycle_cap *cap = &c->caps[k];
		double volts = mid[k].base + mid[k].gain * into[k];

		if (cap->twin >= 0)
			volts += mid[k].cross * into[cap->twin];
		ret_volts[k] = volts;
		end->cap_volts[k] += volts;
		end->cap_volts_squared[k] += volts * volts;
		if (cap->choke_henry > 0.0) {
			double m[2][2];

			state->amps[k] = step_choke(cap, &mid[k], step_s, into[k], into_slope[k],
			                            state->amps[k], m);
			ret_choke_amps[k] = state->amps[k];
			chain(m, end->slope[k]);
		} else {
			/* the emf gives way to what a reservoir takes */
			const double gd = into_slope[k] -
				into_by_emf[k] * into_by_emf[k] * emf_gives;

			end->slope[k][0][0] *=
				2.0 * mid[k].by_volts * (1.0 - mid[k].gain * gd) - 1.0;
		}
		state->volts[k] = cap->farad > 0.0 ? 2.0 * volts - state->volts[k] : volts;
	}
}

void cycle_solve(const struct cycle *c, struct cycle_state *state, struct cycle_wave *wave,
                 struct cycle_end *ret)
{
	const struct span s = span_of(c);
	const bool known = wave->samples == s.samples && wave->n_paths == c->n_paths;
	struct phase at = first_phase();
	double emf = 0.0, source_before = 0.0;
	double others = 0.0, before = 0.0; /* sample before: A beside the primary; all of it */
	struct midpoint mid[CYCLE_CAPS_MAX];
	struct live_path live[CYCLE_PATHS_MAX];

	memset(ret, 0, sizeof *ret);
	wave->samples = s.samples;
	wave->n_paths = c->n_paths;
	for (int k = 0; k < c->n_caps; k++) {
		wave->start_volts[k] = state->volts[k];
		wave->start_amps[k] = state->amps[k];
		ret->slope[k][0][0] = ret->slope[k][1][1] = 1.0;
		mid[k] = cap_midpoint(c, k, s.step_s);
	}
	ready_paths(c, mid, s.step_s, live);

	for (int n = 0; n < s.samples; n++, at = next_phase(&s, at)) {
		const double open_node = c->line_peak * at.sin * s.divide;
		/* A rail on the line beside a transformer sees the cord's drop of the sample
		 * before: the cord is milliohms. */
		const double line_drive = open_node - s.node_ohms * before;
		const double source = c->transformer ? open_node - s.node_ohms * others : open_node;
		double *root = wave->root[n];
		double slope;

		for (int k = 0; k < c->n_caps; k++) {
			const int twin = c->caps[k].twin;

			mid[k].base = mid[k].keep * state->volts[k] + mid[k].drain;
			if (twin >= 0)
				mid[k].base += mid[k].keep_sum *
					(state->volts[k] + state->volts[twin]);
		}
		for (int p = 0; p < c->n_paths; p++) {
			const int k = c->paths[p].cap;

			live[p].offset = k < 0 ? 0.0 :
				live[p].lambda * state->amps[k] - mid[k].base;
			if (!live[p].alone)
				live[p].amps = 0.0; /* until they find their shares */
		}
		/* near enough to start from: what it was in the span before, else the sample
		 * before, most of the load being linear */
		if (known) {
			emf = wave->emf[n];
		} else {
			emf = n > 0 ? emf * source / source_before : source;
			for (int p = 0; p < c->n_paths; p++)
				root[p] = n > 0 ? wave->root[n - 1][p] : 0.0;
		}
		source_before = source;
		solve_emf(c, &s, mid, live, root, source, line_drive,
		          magnetising_amps(c, &s, at), &emf, &wave->through[n], &slope);
		step_caps(c, mid, s.step_s, live, s.emf_ohms / (1.0 + s.emf_ohms * slope), state,
		          wave->volts[n], wave->choke_amps[n], ret);

		wave->emf[n] = emf;
		ret->emf_squared += emf * emf;
		ret->emf_sin += 2.0 * emf * at.sin;
		ret->emf_cos += 2.0 * emf * at.cos;
		others = 0.0;
		for (int p = 0; p < c->n_paths; p++) {
			wave->amps[n][p] = live[p].amps;
			if (c->paths[p].on_line) {
				double sign;

				(void)source_volts(&c->paths[p], line_drive, &sign);
				others += sign * c->paths[p].ratio * live[p].amps;
			}
		}
		before = wave->through[n] + others;
	}

	const double share = 1.0 / s.samples;
	ret->emf_squared *= share;
	ret->emf_sin *= share;
	ret->emf_cos *= share;
	for (int k = 0; k < c->n_caps; k++) {
		ret->cap_volts[k] *= share;
		ret->cap_volts_squared[k] *= share;
	}
}

/* The plug at one sample: primary (or, without a transformer, everything), what sits beside it, and
 * the linear loads on the line node. */
struct plug {
	double line, line_drive, node, beside, total;
};

static struct plug plug_at(const struct cycle *c, const struct span *s, struct phase at,
                           const struct cycle_wave *w, int n, double others, double before)
{
	const double open_node = c->line_peak * at.sin * s->divide;
	struct plug plug = { .line = c->line_peak * at.sin,
	                     .line_drive = open_node - s->node_ohms * before };

	plug.node = open_node - s->node_ohms * (w->through[n] + (c->transformer ? others : 0.0));
	for (int p = 0; p < c->n_paths; p++)
		if (c->paths[p].on_line) {
			double sign;

			(void)source_volts(&c->paths[p], plug.line_drive, &sign);
			plug.beside += sign * c->paths[p].ratio * w->amps[n][p];
		}
	plug.total = c->line_siemens * plug.node + w->through[n] + plug.beside;
	return plug;
}

double cycle_watts(const struct cycle *c, const struct cycle_wave *wave)
{
	const struct span s = span_of(c);
	struct phase at = first_phase();
	double watts = 0.0, others = 0.0, before = 0.0;

	for (int n = 0; n < s.samples; n++, at = next_phase(&s, at)) {
		const struct plug plug = plug_at(c, &s, at, wave, n, others, before);

		watts += plug.line * plug.total;
		others = plug.beside;
		before = wave->through[n] + plug.beside;
	}
	return watts / s.samples;
}

/* What the paths did in one sample; every loss is a difference of volts times the current through
 * it. */
static void add_paths(const struct cycle *c, const struct cycle_wave *w, int n, double line_drive,
                      struct cycle_means *ret)
{
	for (int p = 0; p < c->n_paths; p++) {
		const struct cycle_path *path = &c->paths[p];
		double sign;
		const double from = path->on_line ? line_drive : w->emf[n];
		const double volts = source_volts(path, from, &sign);
		const double amps = w->amps[n][p];
		const double terminal = volts - path->winding_ohms * amps;

		ret->path_amps_squared[p] += amps * amps;
		ret->path_terminal_squared[p] += path->idle_half ?
			0.5 * (terminal * terminal + volts * volts) : terminal * terminal;
		ret->path_rectifier_watts[p] += terminal * amps;
		/* what reached the rectifier's far end goes on into choke and reservoir */
		if (path->cap >= 0)
			ret->path_rectifier_watts[p] -= w->volts[n][path->cap] * amps;
	}
}

/* And the reservoirs: start of the sample in volts[] and amps[], which go on to its end. */
static void add_caps(const struct cycle *c, const struct cycle_wave *w, int n, double step_s,
                     double *volts, double *amps, struct cycle_means *ret)
{
	for (int k = 0; k < c->n_caps; k++) {
		const struct cycle_cap *cap = &c->caps[k];
		const double mid = w->volts[n][k];
		double into = 0.0;
		int first = -1;

		for (int p = c->n_paths - 1; p >= 0; p--)
			if (c->paths[p].cap == k) {
				into += w->amps[n][p];
				first = p;
			}
		double out = into;
		if (cap->farad > 0.0) {
			const double next = 2.0 * mid - volts[k];

			out -= cap->farad * (next - volts[k]) / step_s;
			volts[k] = next;
		}
		if (cap->choke_henry > 0.0) {
			const double next = w->choke_amps[n][k];
			const double lost = cap->choke_ohms * into * into;

			ret->cap_choke_watts[k] += lost;
			if (first >= 0)
				ret->path_rectifier_watts[first] -= lost + 0.5 * cap->choke_henry *
					(next * next - amps[k] * amps[k]) / step_s;
			amps[k] = next;
		}
		ret->cap_load_watts[k] += mid * out;
		ret->cap_load_amps[k] += out;
	}
}

void cycle_means(const struct cycle *c, const struct cycle_wave *wave, struct cycle_means *ret)
{
	const struct span s = span_of(c);
	struct phase at = first_phase();
	double others = 0.0, before = 0.0;
	double volts[CYCLE_CAPS_MAX], amps[CYCLE_CAPS_MAX];

	memset(ret, 0, sizeof *ret);
	memcpy(volts, wave->start_volts, sizeof volts);
	memcpy(amps, wave->start_amps, sizeof amps);
	for (int n = 0; n < s.samples; n++, at = next_phase(&s, at)) {
		const struct plug plug = plug_at(c, &s, at, wave, n, others, before);
		const double through = wave->through[n];

		ret->line_watts += plug.line * plug.total;
		ret->line_amps_squared += plug.total * plug.total;
		ret->line_node_squared += plug.node * plug.node;
		ret->mag_watts += magnetising_amps(c, &s, at) * wave->emf[n];
		ret->primary_loss += (plug.node - wave->emf[n]) * through;
		ret->line_loss += plug.line * plug.total - c->line_siemens * plug.node * plug.node -
			plug.node * through - plug.line_drive * plug.beside;
		add_paths(c, wave, n, plug.line_drive, ret);
		add_caps(c, wave, n, s.step_s, volts, amps, ret);
		others = plug.beside;
		before = through + plug.beside;
	}

	const double share = 1.0 / s.samples;
	double *sums[] = { &ret->line_watts, &ret->line_amps_squared, &ret->primary_loss,
	                   &ret->line_loss, &ret->line_node_squared, &ret->mag_watts };
	for (size_t i = 0; i < sizeof sums / sizeof *sums; i++)
		*sums[i] *= share;
	for (int p = 0; p < c->n_paths; p++) {
		ret->path_amps_squared[p] *= share;
		ret->path_rectifier_watts[p] *= share;
		ret->path_terminal_squared[p] *= share;
	}
	for (int k = 0; k < c->n_caps; k++) {
		const struct cycle_cap *cap = &c->caps[k];
		const double v = wave->start_volts[k], i = wave->start_amps[k];

		ret->cap_load_watts[k] *= share;
		ret->cap_load_amps[k] *= share;
		ret->cap_choke_watts[k] *= share;
		ret->cap_storing_watts[k] = 0.5 * (cap->farad * (volts[k] * volts[k] - v * v) +
			cap->choke_henry * (amps[k] * amps[k] - i * i)) / (s.samples * s.step_s);
	}
}
