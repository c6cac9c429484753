#include "cycle.h"

#include <math.h>
#include <string.h>

#include "mainstair/core/emission.h"

static const double pi = 3.14159265358979323846;

/* Current of a path driven by `drive` volts (> 0) through `ohms` and its rectifier; slope: di/ddrive.
 * *root is the square root of the rectifier's drop: in, a guess (0: none), out, what it is. */
static double path_current(const struct cycle_path *p, double drive, double ohms, double *root,
                           double *ret_slope)
{
	*ret_slope = 0.0;
	if (p->perveance <= 0.0) {
		if (drive <= p->drop_volts)
			return 0.0;
		*ret_slope = 1.0 / ohms;
		return (drive - p->drop_volts) / ohms;
	}
	/* y^2 + ohms i(y) = drive, i(y) = limit(perveance y^3): rising in y, convex up to the knee
	 * of the limit.  Past the knee Newton may go from end to end for ever: a step out of what
	 * is known of the root's place is halved. */
	double y = *root, amps = 0.0, slope = 0.0;
	const double top = sqrt(drive);
	double low = 0.0, high = 2.0 * top;

	if (y <= 0.0 || y > top)
		y = top;
	for (int i = 0; i < 60; i++) {
		double bend;
		amps = emission_limit_slope(p->perveance * y * y * y, p->saturation, &bend);
		slope = 3.0 * p->perveance * y * y * bend; /* di/dy */
		const double miss = y * y + ohms * amps - drive;
		double next = y - miss / (2.0 * y + ohms * slope);

		if (fabs(next - y) < 1e-4 * top) { /* the next step would be its square */
			y = fmin(next, top);
			break;
		}
		if (miss > 0.0)
			high = y;
		else
			low = y;
		if (next <= 0.0)
			next = 0.1 * y;
		if (next > top)
			next = top;
		y = next > low && next < high ? next : 0.5 * (low + high);
	}
	/* what the drive leaves over is the current, so that the volts add up exactly */
	amps = (drive - y * y) / ohms;
	*root = y;
	*ret_slope = slope / (2.0 * y + ohms * slope);
	return amps > 0.0 ? amps : 0.0;
}

/* A reservoir over one step of the implicit midpoint rule: mid = base + gain * (current into it). */
struct midpoint {
	double base, gain;
	double cross; /* doubler: and this times the current into the twin */
};

static struct midpoint cap_midpoint(const struct cycle *c, const struct cycle_state *s, int k,
                                    double step_s)
{
	const struct cycle_cap *cap = &c->caps[k];
	struct midpoint m = { 0 };

	if (cap->farad <= 0.0) {
		m.gain = 1.0 / cap->load_siemens;
		m.base = -cap->load_amps * m.gain;
	} else if (cap->twin >= 0) {
		/* both capacitors of a doubler carry the same load, which sees their sum */
		const double beta = step_s / (2.0 * cap->farad);
		const double twin_beta = step_s / (2.0 * c->caps[cap->twin].farad);
		const double d = 1.0 + (beta + twin_beta) * cap->load_siemens;
		const double sum = (s->volts[k] + s->volts[cap->twin] -
		                    (beta + twin_beta) * cap->load_amps) / d;

		m.base = s->volts[k] - beta * (cap->load_amps + cap->load_siemens * sum);
		m.gain = beta * (1.0 - cap->load_siemens * beta / d);
		m.cross = -beta * twin_beta * cap->load_siemens / d;
	} else {
		const double beta = step_s / (2.0 * cap->farad);
		const double d = 1.0 + beta * cap->load_siemens;
		m.gain = beta / d;
		m.base = (s->volts[k] - beta * cap->load_amps) / d;
	}
	return m;
}

/* What the other paths into path p's reservoir (or a doubler's other one) add to its volts. */
static double shared_rise(const struct cycle *c, const struct midpoint *mid, const double *amps,
                          int p)
{
	const int cap = c->paths[p].cap, twin = c->caps[cap].twin;
	double volts = 0.0;

	for (int q = 0; q < c->n_paths; q++)
		if (q != p && c->paths[q].cap == cap)
			volts += mid[cap].gain * amps[q];
		else if (twin >= 0 && c->paths[q].cap == twin)
			volts += mid[cap].cross * amps[q];
	return volts;
}

void cycle_solve(const struct cycle *c, struct cycle_state *state, struct cycle_wave *wave,
                 struct cycle_means *ret)
{
	const int samples = c->whole ? 2 * CYCLE_HALF_SAMPLES : CYCLE_HALF_SAMPLES;
	const double step_rad = pi / CYCLE_HALF_SAMPLES;
	const double step_s = 1.0 / (2.0 * CYCLE_HALF_SAMPLES * c->line_hz);
	const double turn_cos = cos(step_rad), turn_sin = sin(step_rad);
	double wave_sin = sin(0.5 * step_rad), wave_cos = cos(0.5 * step_rad);
	const double lead_cos = cos(c->emf_lead), lead_sin = sin(c->emf_lead);
	const bool known = wave->samples == samples && wave->n_paths == c->n_paths;
	double emf = 0.0, source_before = 0.0;
	double others = 0.0, before = 0.0; /* sample before: current beside the primary; all of it */
	double start_volts[CYCLE_CAPS_MAX], start_amps[CYCLE_CAPS_MAX];

	memset(ret, 0, sizeof *ret);
	wave->samples = samples;
	wave->n_paths = c->n_paths;
	for (int k = 0; k < c->n_caps; k++) {
		start_volts[k] = state->volts[k];
		start_amps[k] = state->amps[k];
		ret->slope[k][0][0] = ret->slope[k][1][1] = 1.0;
	}
	/* Linear loads on the line node join the line's own resistance (Thevenin). */
	const double divide = 1.0 / (1.0 + c->line_ohms * c->line_siemens);
	const double node_ohms = c->line_ohms * divide;
	const double emf_ohms = c->transformer ? node_ohms + c->primary_ohms : node_ohms;

	/* what does not change over the samples */
	double ohms[CYCLE_PATHS_MAX], lambda[CYCLE_PATHS_MAX];
	bool alone[CYCLE_PATHS_MAX]; /* no other path charges the same or the twin reservoir */
	for (int p = 0; p < c->n_paths; p++) {
		const struct cycle_path *path = &c->paths[p];

		ohms[p] = path->winding_ohms + path->surge_ohms;
		lambda[p] = 0.0;
		alone[p] = true;
		if (path->cap < 0)
			continue;
		const struct cycle_cap *cap = &c->caps[path->cap];
		ohms[p] += cap_midpoint(c, state, path->cap, step_s).gain;
		if (cap->choke_henry > 0.0) {
			lambda[p] = 2.0 * cap->choke_henry / step_s;
			ohms[p] += cap->choke_ohms + lambda[p];
		}
		for (int q = 0; q < c->n_paths; q++)
			if (q != p && (c->paths[q].cap == path->cap ||
			               (cap->twin >= 0 && c->paths[q].cap == cap->twin)))
				alone[p] = false;
	}

	for (int n = 0; n < samples; n++) {
		const double line = c->line_peak * wave_sin;
		const double open_node = line * divide;
		const double flux = wave_cos * lead_cos - wave_sin * lead_sin; /* less its sign */
		const double c3 = flux * flux * flux;
		const double mag = c->transformer ? -(c->mag_peak_linear * flux +
		                                      c->mag_peak_ninth * c3 * c3 * c3) : 0.0;
		/* A rail on the line beside a transformer sees the cord's drop of the sample before:
		 * the cord is milliohms. */
		const double line_drive = open_node - node_ohms * before;
		struct midpoint mid[CYCLE_CAPS_MAX];
		double amps[CYCLE_PATHS_MAX], slope[CYCLE_PATHS_MAX];

		for (int k = 0; k < c->n_caps; k++)
			mid[k] = cap_midpoint(c, state, k, step_s);
		for (int p = 0; p < c->n_paths; p++)
			amps[p] = 0.0;

		const double source = c->transformer ? open_node - node_ohms * others : open_node;
		double *root = wave->root[n];
		/* near enough to start from: what it was in the span before, else the sample
		 * before, most of the load being linear */
		if (known)
			emf = wave->emf[n];
		else
			emf = n > 0 ? emf * source / source_before : source;
		for (int p = 0; !known && p < c->n_paths; p++)
			root[p] = n > 0 ? wave->root[n - 1][p] : 0.0;
		source_before = source;
		double load = 0.0; /* everything that the emf feeds */
		for (int i = 0; i < 30; i++) {
			double load_slope = c->emf_siemens, by_emf[CYCLE_PATHS_MAX];

			load = c->emf_siemens * emf + mag;
			for (int p = 0; p < c->n_paths; p++) {
				const struct cycle_path *path = &c->paths[p];
				const double from = path->on_line ? line_drive : emf;
				const double signed_volts = path->ratio * from;
				const double volts = path->polarity == 0 ? fabs(signed_volts) :
					path->polarity * signed_volts;
				double drive = volts;

				if (path->cap >= 0) {
					drive += lambda[p] * state->amps[path->cap] -
						mid[path->cap].base;
					if (!alone[p])
						drive -= shared_rise(c, mid, amps, p);
				}
				if (path->short_siemens > 0.0) {
					/* a shorted rectifier conducts both ways */
					slope[p] = 1.0 / (ohms[p] + 1.0 / path->short_siemens);
					amps[p] = drive * slope[p];
				} else if (drive <= 0.0) {
					amps[p] = slope[p] = 0.0;
					root[p] = 0.0;
				} else {
					amps[p] = path_current(path, drive, ohms[p], &root[p],
					                       &slope[p]);
				}
				by_emf[p] = 0.0;
				if (!path->on_line) {
					const double sign = path->polarity != 0 ? path->polarity :
						(signed_volts < 0.0 ? -1.0 : 1.0);
					load += path->ratio * sign * amps[p];
					load_slope += path->ratio * path->ratio * slope[p];
					by_emf[p] = path->ratio * sign * slope[p];
				}
			}
			const double miss = source - emf_ohms * load - emf;
			const double step = miss / (1.0 + emf_ohms * load_slope);

			emf += step;
			if (fabs(step) < 1e-4 * c->line_peak) {
				/* a last step this small is as good along the tangent */
				for (int p = 0; p < c->n_paths; p++)
					amps[p] += by_emf[p] * step;
				load += load_slope * step;
				break;
			}
		}
		wave->emf[n] = emf;

		/* the sums; every loss is a difference of volts times the current through it */
		double beside = 0.0;
		for (int p = 0; p < c->n_paths; p++) {
			const struct cycle_path *path = &c->paths[p];
			const double from = path->on_line ? line_drive : emf;
			const double signed_volts = path->ratio * from;
			const double volts = path->polarity == 0 ? fabs(signed_volts) :
				path->polarity * signed_volts;
			const double i = amps[p];
			const double terminal = volts - path->winding_ohms * i;

			ret->path_amps[p] += i;
			ret->path_amps_squared[p] += i * i;
			if (path->idle_half)
				ret->path_terminal_squared[p] +=
					0.5 * (terminal * terminal + volts * volts);
			else
				ret->path_terminal_squared[p] += terminal * terminal;
			ret->path_rectifier_watts[p] += terminal * i;
			if (path->on_line)
				beside += (path->polarity != 0 ? path->polarity :
				           (signed_volts < 0.0 ? -1.0 : 1.0)) * path->ratio * i;
		}
		for (int k = 0; k < c->n_caps; k++) {
			const struct cycle_cap *cap = &c->caps[k];
			double into = 0.0, into_twin = 0.0, gd = 0.0;

			for (int p = 0; p < c->n_paths; p++)
				if (c->paths[p].cap == k) {
					into += amps[p];
					gd += slope[p];
				} else if (cap->twin >= 0 && c->paths[p].cap == cap->twin) {
					into_twin += amps[p];
				}
			const double volts = mid[k].base + mid[k].gain * into + mid[k].cross * into_twin;
			double out = into, next = volts;

			if (cap->farad > 0.0) {
				next = 2.0 * volts - state->volts[k];
				out = into - cap->farad * (next - state->volts[k]) / step_s;
			}
			double choke_watts = 0.0, next_amps = 0.0;
			const bool choke = cap->choke_henry > 0.0;
			/* share of its own drive that the choke takes: next to 1 in full flow, none
			 * where a rectifier at its limit says what flows */
			const double reign = gd * 2.0 * cap->choke_henry / step_s;
			bool cut = false;
			if (choke) {
				/* on past the middle of the step, the less so the more the
				 * rectifier rules: the plain midpoint rule would ring there */
				next_amps = into + reign * (into - state->amps[k]);
				cut = next_amps < 0.0; /* the rectifier lets no current back */
				if (cut)
					next_amps = 0.0;
				choke_watts = cap->choke_ohms * into * into;
				ret->cap_choke_watts[k] += choke_watts;
			}
			const double choke_storing = choke ? 0.5 * cap->choke_henry *
				(next_amps * next_amps - state->amps[k] * state->amps[k]) / step_s : 0.0;
			/* what reached the rectifier's far end goes on into choke and reservoir */
			for (int p = 0; p < c->n_paths; p++)
				if (c->paths[p].cap == k)
					ret->path_rectifier_watts[p] -= volts * amps[p];
			for (int p = 0; choke && p < c->n_paths; p++)
				if (c->paths[p].cap == k) {
					ret->path_rectifier_watts[p] -= choke_watts + choke_storing;
					break;
				}
			ret->cap_volts[k] += volts;
			ret->cap_volts_squared[k] += volts * volts;
			ret->cap_load_watts[k] += volts * out;
			ret->cap_load_amps[k] += out;

			/* sensitivity of the end to the start, chained over the steps */
			double m00 = 0.0, m01 = 0.0, m10 = 0.0, m11 = 0.0;
			if (cap->farad > 0.0) {
				const double beta = step_s / (2.0 * cap->farad);
				/* d(base)/d(start volts); for a doubler its twin goes along */
				const double dbase = cap->twin < 0 ? mid[k].gain / beta :
					1.0 - 2.0 * beta * cap->load_siemens /
					(1.0 + 2.0 * beta * cap->load_siemens);
				const double dmid = dbase * (1.0 - mid[k].gain * gd);
				m00 = 2.0 * dmid - 1.0;
				if (choke) {
					m01 = 2.0 * mid[k].gain * reign;
					m10 = cut ? 0.0 : -(1.0 + reign) * gd * dbase;
					m11 = cut ? 0.0 : reign * reign;
				}
			} else {
				m00 = 1.0;
			}
			double (*s)[2] = ret->slope[k];
			const double s00 = m00 * s[0][0] + m01 * s[1][0];
			const double s01 = m00 * s[0][1] + m01 * s[1][1];
			const double s10 = m10 * s[0][0] + m11 * s[1][0];
			const double s11 = m10 * s[0][1] + m11 * s[1][1];
			s[0][0] = s00;
			s[0][1] = s01;
			s[1][0] = s10;
			s[1][1] = s11;

			state->volts[k] = next;
			state->amps[k] = next_amps;
		}

		/* the plug: primary (or, without a transformer, everything), what sits beside it,
		 * and the linear loads on the line node */
		const double through = load;
		const double node = open_node - node_ohms * (c->transformer ? through + others : through);
		const double total = c->line_siemens * node + through + beside;
		ret->line_watts += line * total;
		ret->line_amps_squared += total * total;
		ret->line_node_squared += node * node;
		ret->emf_squared += emf * emf;
		ret->emf_sin += 2.0 * emf * wave_sin;
		ret->emf_cos += 2.0 * emf * wave_cos;
		ret->mag_watts += mag * emf;
		ret->primary_loss += (node - emf) * through;
		ret->line_loss += line * total - c->line_siemens * node * node - node * through -
			line_drive * beside;
		others = beside;
		before = through + beside;

		const double next_sin = wave_sin * turn_cos + wave_cos * turn_sin;
		wave_cos = wave_cos * turn_cos - wave_sin * turn_sin;
		wave_sin = next_sin;
	}

	const double share = 1.0 / samples;
	double *sums[] = { &ret->line_watts, &ret->line_amps_squared, &ret->primary_loss,
	                   &ret->line_loss,
	                   &ret->line_node_squared, &ret->emf_squared, &ret->mag_watts,
	                   &ret->emf_sin, &ret->emf_cos };
	for (size_t i = 0; i < sizeof sums / sizeof *sums; i++)
		*sums[i] *= share;
	for (int p = 0; p < c->n_paths; p++) {
		ret->path_amps[p] *= share;
		ret->path_amps_squared[p] *= share;
		ret->path_rectifier_watts[p] *= share;
		ret->path_terminal_squared[p] *= share;
	}
	for (int k = 0; k < c->n_caps; k++) {
		const struct cycle_cap *cap = &c->caps[k];
		const double span_s = samples * step_s;

		ret->cap_volts[k] *= share;
		ret->cap_volts_squared[k] *= share;
		ret->cap_load_watts[k] *= share;
		ret->cap_load_amps[k] *= share;
		ret->cap_choke_watts[k] *= share;
		ret->cap_storing_watts[k] = 0.5 * (cap->farad *
			(state->volts[k] * state->volts[k] - start_volts[k] * start_volts[k]) +
			cap->choke_henry *
			(state->amps[k] * state->amps[k] - start_amps[k] * start_amps[k])) / span_s;
	}
}
