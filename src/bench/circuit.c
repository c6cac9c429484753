/*
 * bench/circuit.c - the steps in time
 */
#include "bench/circuit.h"

#include <math.h>
#include <string.h>

#include "mainstair/core/emission.h"

enum {
	ITERATIONS_FREE = 6, /* Newton with its full stride; see iterate() */
	ITERATIONS_MAX = 80
};
static const double close_volts = 1e-3;      /* change of any node that ends the iteration */
static const double stale_temperature = 1e-4; /* change of u that is worth a new exp() */

/* ---- what bends ---- */

/* Share of its rated saturation that a set of cathodes gives now: the mean over them. */
static double emission_of(const struct circuit *c, const int *by, int n_by)
{
	double sum = 0;

	if (n_by == 0)
		return 1;
	for (int k = 0; k < n_by; k++)
		sum += c->emission[by[k]];
	return sum / n_by;
}

/* Take the tangent of a path at u volts across it. */
static void path_tangent(struct path *p, double u)
{
	p->tangent_volts = u;
	p->amps = p->siemens = 0;
	if (p->perveance <= 0) {
		if (u > p->drop_volts) {
			p->siemens = 1 / p->ohms;
			p->amps = (u - p->drop_volts) / p->ohms;
		}
		return;
	}
	if (u <= 0 || p->saturation <= 0)
		return;

	/* With y the square root of the drop, y^2 + ohms i(y^3) = u: rising in y.  Newton, from
	 * where a saturated tube would be, else from the last solution, kept between what is
	 * known to be too little and too much. */
	double low = 0, high = sqrt(u), y = p->root, by_y = 0;
	if (u > p->ohms * p->saturation) {
		double y0 = sqrt(u - p->ohms * p->saturation);
		if (p->perveance * y0 * y0 * y0 > 2 * p->saturation)
			y = y0;
	}
	if (!(y > 0 && y < high))
		y = high / 2;
	for (int k = 0; k < 50; k++) {
		double bend;
		p->amps = emission_limit_slope(p->perveance * y * y * y, p->saturation, &bend);
		by_y = 3 * p->perveance * y * y * bend;
		double miss = y * y + p->ohms * p->amps - u;
		if (miss > 0)
			high = y;
		else
			low = y;
		double move = -miss / (2 * y + p->ohms * by_y);
		if (fabs(move) < 1e-4 * y) { /* the rest is its square: follow the tangent */
			p->amps += by_y * move;
			y += move;
			break;
		}
		y = y + move > low && y + move < high ? y + move : (low + high) / 2;
	}
	p->root = y;
	p->siemens = by_y / (2 * y + p->ohms * by_y);
}

/* What it carries near its tangent. */
static double path_amps(const struct path *p, double u)
{
	return p->amps + p->siemens * (u - p->tangent_volts);
}

static double flux_amps(const struct flux *f, double weber, double *ret_by_weber)
{
	double s = weber / f->rated_weber, s2 = s * s, s8 = s2 * s2 * s2 * s2;

	*ret_by_weber = (f->linear + 9 * f->ninth * s8) / f->rated_weber;
	return (f->linear + f->ninth * s8) * s;
}

/* What the stages of a rail draw at v, with the tangent's slope. */
static double draws_amps(const struct circuit *c, const struct net_rail *nr, double v,
                         double *ret_slope)
{
	double amps = 0, slope = 0;

	if (v < 0)
		v = 0;
	for (int d = 0; d < nr->n_draws; d++) {
		const struct net_draw *draw = &nr->draws[d];
		double full = draw->amps * nr->load_factor, x = v / draw->volts, root = sqrt(x);
		double bend, most;
		int n = draw->n_by > 0 ? draw->n_by : 1;

		switch (draw->kind) {
		case DRAW_SPACE_CHARGE:
			/* each cathode of `by` carries its share, or what it can */
			for (int k = 0; k < n; k++) {
				most = draw->emission * draw->amps / n;
				if (draw->n_by > 0)
					most *= c->emission[draw->by[k]];
				amps += emission_limit_slope(full / n * x * root, most, &bend);
				slope += bend * full / n * 1.5 * root / draw->volts;
			}
			break;
		case DRAW_RESISTIVE:
			amps += full * x;
			slope += full / draw->volts;
			break;
		case DRAW_CONSTANT:
			amps += full * emission_limit_slope(x / draw->knee, 1, &bend);
			slope += full * bend / (draw->knee * draw->volts);
			break;
		}
	}
	*ret_slope = slope;
	return amps;
}

static double pass_on_amps(const struct circuit *c, const struct pass *p, double u,
                           double *ret_slope)
{
	const struct net_rail *nr = &c->net->rails[p->rail];

	*ret_slope = 0;
	if (u <= 0)
		return 0;
	double x = u / nr->pass_drop_volts, root = sqrt(x), bend;
	double amps = emission_limit_slope(nr->pass_amps * x * root, p->saturation, &bend);
	*ret_slope = bend * nr->pass_amps * 1.5 * root / nr->pass_drop_volts;
	return amps;
}

static double pass_set_amps(const struct circuit *c, const struct pass *p)
{
	const struct net_rail *nr = &c->net->rails[p->rail];

	return p->set_siemens * (nr->pass_volts - c->volts[c->rail_node[p->rail]]);
}

/* ---- what follows slowly ---- */

static void take_tangent(struct circuit *c, struct rail_load *load)
{
	load->tangent_volts = fmax(c->volts[c->rail_node[load->rail]], 0);
	load->amps = draws_amps(c, &c->net->rails[load->rail], load->tangent_volts, &load->siemens);
}

/* Volts squared across heater k of a group, from the mean square across the group's branch. */
static double heater_squared(const struct circuit *c, const struct heater_group *g, int k,
                             double mean)
{
	double branch = c->fixed[g->fixed].siemens;

	if (g->winding < 0 && g->heater_siemens > 0)
		return mean * branch * branch * c->heaters[k].ohms * c->heaters[k].ohms;
	if (g->winding < 0) /* a broken string: the whole line stands across the break */
		return c->net->heaters[k].open ? mean : 0;
	if (g->heater_siemens > 0)
		return mean * branch * branch / (g->heater_siemens * g->heater_siemens);
	return mean;
}

static void warm_heaters(struct circuit *c, struct heater_group *g, double dt_s)
{
	const struct network *net = c->net;
	double mean = c->chunk_steps > 0 ? g->volts_squared / c->chunk_steps : 0;
	double siemens = 0, ohms = 0;
	bool open = false;

	for (int k = 0; k < net->n_heaters; k++) {
		struct thermal *t = &c->heaters[k];
		if (net->heaters[k].winding != g->winding)
			continue;
		if (dt_s > 0) {
			double squared = heater_squared(c, g, k, mean);
			thermal_step(t, net->heaters[k].open ? 0 : squared / t->ohms, dt_s);
			c->heater_squared[k] += (squared - c->heater_squared[k]) *
				CIRCUIT_STEPS_A_CHUNK / (4.0 * CIRCUIT_STEPS_A_CYCLE);
		}
		open = open || net->heaters[k].open;
		if (!net->heaters[k].open)
			siemens += 1 / t->ohms;
		ohms += t->ohms;
	}
	if (g->winding < 0)
		siemens = open ? 0 : 1 / ohms;
	g->heater_siemens = siemens;
	g->volts_squared = 0;
	c->fixed[g->fixed].siemens = siemens > 0 ? 1 / (g->series_ohms + 1 / siemens) : 0;
}

static void update_emission(struct circuit *c)
{
	const struct network *net = c->net;

	for (int k = 0; k < net->n_tube_heaters; k++) {
		double u = c->heaters[k].u;
		if (fabs(u - c->emission_u[k]) < stale_temperature)
			continue;
		c->emission_u[k] = u;
		c->emission[k] = net->heaters[k].open ? 0 : emission_share(u);
	}
	for (int k = 0; k < c->n_paths; k++) {
		const struct net_rail *nr = &net->rails[c->paths[k].rail];
		c->paths[k].saturation = nr->saturation_amps > 0 ?
			nr->saturation_amps *
			emission_of(c, nr->rectifier_by, nr->n_rectifier_by) : INFINITY;
	}
	for (int k = 0; k < c->n_passes; k++) {
		const struct net_rail *nr = &net->rails[c->passes[k].rail];
		c->passes[k].saturation = nr->pass_saturation_amps *
			emission_of(c, nr->regulator_by, nr->n_regulator_by);
	}
}

static double cap_siemens(const struct circuit *c, const struct capacitor *cap)
{
	return 1.5 * cap->farad / c->step_s;
}

static double choke_siemens(const struct circuit *c, const struct choke *choke)
{
	return 1 / (choke->ohms + 1.5 * choke->henry / c->step_s);
}

static void rebuild_base(struct circuit *c)
{
	double *value = c->base_value;

	memset(value, 0, (size_t)c->mesh.n_entries * sizeof *value);
	for (int k = 0; k < c->n_fixed; k++)
		mesh_add_siemens(value, &c->fixed[k].at, c->fixed[k].siemens);
	for (int k = 0; k < c->n_caps; k++)
		mesh_add_siemens(value, &c->caps[k].at, cap_siemens(c, &c->caps[k]));
	for (int k = 0; k < c->n_chokes; k++)
		mesh_add_siemens(value, &c->chokes[k].at, choke_siemens(c, &c->chokes[k]));
	for (int k = 0; k < c->n_loads; k++)
		mesh_add_siemens(value, &c->loads[k].at, c->loads[k].siemens);
}

void circuit_update(struct circuit *c)
{
	const struct network *net = c->net;
	double dt_s = c->chunk_steps * c->step_s;

	for (int k = 0; k < c->n_groups; k++)
		warm_heaters(c, &c->groups[k], dt_s);
	update_emission(c);
	for (int k = 0; k < c->n_loads; k++)
		take_tangent(c, &c->loads[k]);
	if (c->core >= 0) {
		/* watts as a power of the rms emf, as a conductance; held from a hundredth of the
		 * rated emf down, where it would grow without bound */
		double share = fmax(sqrt(c->emf_squared) / net->emf_rated, 0.01);
		c->fixed[c->core].siemens = net->core_watts / (net->emf_rated * net->emf_rated) *
			pow(share, net->core_exponent - 2);
	}
	rebuild_base(c);
	c->chunk_steps = 0;
}

/* ---- one step ---- */

/* Currents that the past pushes through capacitors, chokes and tangents. */
static void add_history(const struct circuit *c, double line_volts, double *rhs)
{
	const struct mesh_branch *source = &c->fixed[c->source].at;

	memset(rhs, 0, (size_t)c->mesh.n * sizeof *rhs);
	rhs[source->node[0]] += c->fixed[c->source].siemens * line_volts;
	for (int k = 0; k < c->n_caps; k++) {
		const struct capacitor *cap = &c->caps[k];
		mesh_add_amps(rhs, &cap->at, -cap->farad / c->step_s *
		              (2 * cap->volts - 0.5 * cap->volts_before));
	}
	for (int k = 0; k < c->n_chokes; k++) {
		const struct choke *l = &c->chokes[k];
		mesh_add_amps(rhs, &l->at, choke_siemens(c, l) * l->henry / c->step_s *
		              (2 * l->amps - 0.5 * l->amps_before));
	}
	for (int k = 0; k < c->n_loads; k++) {
		const struct rail_load *load = &c->loads[k];
		mesh_add_amps(rhs, &load->at, load->amps - load->siemens * load->tangent_volts);
	}
}

static double flux_history(const struct flux *f)
{
	return (4 * f->weber - f->weber_before) / 3;
}

/* Tangents of all that bends, at the present guess of the node voltages. */
static void add_bending(struct circuit *c)
{
	double *value = c->mesh.value, *rhs = c->mesh.rhs;
	const double *volts = c->volts;
	double g, i, u;

	if (c->emf_node >= 0) {
		double per_volt = 2 * c->step_s / 3, by_weber;
		u = volts[c->emf_node];
		i = flux_amps(&c->flux, flux_history(&c->flux) + per_volt * u, &by_weber);
		g = by_weber * per_volt;
		mesh_add(value, rhs, &c->flux.at, g, i - g * u);
	}
	for (int k = 0; k < c->n_paths; k++) {
		struct path *p = &c->paths[k];
		path_tangent(p, mesh_across(&p->at, volts));
		if (p->siemens > 0)
			mesh_add(value, rhs, &p->at, p->siemens, path_amps(p, 0));
	}
	for (int k = 0; k < c->n_gases; k++) {
		const struct gas *gas = &c->gases[k];
		i = -gas->siemens * gas->hold_volts;
		if (gas->lit && volts[gas->at.node[0]] > gas->hold_volts)
			mesh_add(value, rhs, &gas->at, gas->siemens, i);
	}
	for (int k = 0; k < c->n_passes; k++) {
		const struct pass *p = &c->passes[k];
		double pass_volts = c->net->rails[p->rail].pass_volts;
		if (!p->regulating) {
			u = mesh_across(&p->at, volts);
			i = pass_on_amps(c, p, u, &g);
			mesh_add(value, rhs, &p->at, g, i - g * u);
		} else if (volts[p->rail_at.node[0]] < pass_volts) {
			i = p->set_siemens * pass_volts;
			mesh_add(value, rhs, &p->rail_at, p->set_siemens, i);
			mesh_add_amps(rhs, &p->parent_at, p->amps);
		}
	}
}

/* Newton.  Where it hops to and fro (a choke that asks a cold rectifier for more than it can
 * give), each turn back halves the stride, as bisection would. */
static void iterate(struct circuit *c, const double *history)
{
	struct mesh *m = &c->mesh;
	double next[MESH_NODES_MAX], before[MESH_NODES_MAX] = { 0 }, stride = 1;

	for (int k = 0; k < ITERATIONS_MAX; k++) {
		double most = 0, along = 0;
		memcpy(m->value, c->base_value, (size_t)m->n_entries * sizeof *m->value);
		memcpy(m->rhs, history, (size_t)m->n * sizeof *m->rhs);
		add_bending(c);
		mesh_solve(m, next);
		c->iterations++;
		for (int n = 0; n < m->n; n++) {
			double change = next[n] - c->volts[n];
			most = fmax(most, fabs(change));
			along += change * before[n];
			before[n] = change;
		}
		if (k >= ITERATIONS_FREE)
			stride = along < 0 ? stride / 2 : fmin(1.5 * stride, 1);
		for (int n = 0; n < m->n; n++)
			c->volts[n] += stride * before[n];
		if (most < close_volts)
			return;
	}
	c->unsettled++;
}

static void advance_states(struct circuit *c)
{
	for (int k = 0; k < c->n_caps; k++) {
		struct capacitor *cap = &c->caps[k];
		cap->volts_before = cap->volts;
		cap->volts = mesh_across(&cap->at, c->volts);
	}
	for (int k = 0; k < c->n_chokes; k++) {
		struct choke *l = &c->chokes[k];
		double u = mesh_across(&l->at, c->volts);
		double amps = choke_siemens(c, l) *
			(u + l->henry / c->step_s * (2 * l->amps - 0.5 * l->amps_before));
		l->amps_before = l->amps;
		l->amps = amps;
	}
	if (c->emf_node >= 0) {
		double weber = flux_history(&c->flux) + 2 * c->step_s / 3 * c->volts[c->emf_node];
		c->flux.weber_before = c->flux.weber;
		c->flux.weber = weber;
		double squared = c->volts[c->emf_node] * c->volts[c->emf_node];
		c->emf_squared += (squared - c->emf_squared) / CIRCUIT_STEPS_A_CYCLE;
	}
	for (int k = 0; k < c->n_gases; k++) {
		struct gas *gas = &c->gases[k];
		double v = c->volts[gas->at.node[0]];
		if (!gas->lit && v >= gas->strike_volts)
			gas->lit = true;
		else if (gas->lit && v < gas->hold_volts)
			gas->lit = false;
	}
}

/* Pass tubes: their current, and who rules in the next step, servo or tubes fully on.  Returns
 * the power spent in them. */
static double advance_passes(struct circuit *c)
{
	double watts = 0;

	for (int k = 0; k < c->n_passes; k++) {
		struct pass *p = &c->passes[k];
		double u = mesh_across(&p->at, c->volts), slope;
		double on = pass_on_amps(c, p, u, &slope), set = fmax(pass_set_amps(c, p), 0);
		double parent = c->volts[p->parent_at.node[0]];
		double rail = c->volts[p->rail_at.node[0]];

		if (p->regulating) {
			watts += parent * p->amps - rail * set;
			p->amps = set;
		} else {
			watts += u * on;
			p->amps = on;
		}
		p->regulating = set <= on;
	}
	return watts;
}

/* Power in everything that stores nothing, at the solved voltages. */
static double spent_watts(const struct circuit *c, double line_volts)
{
	double watts = 0;

	for (int k = 0; k < c->n_fixed; k++) {
		double u = mesh_across(&c->fixed[k].at, c->volts);
		if (k == c->source)
			u -= line_volts;
		watts += c->fixed[k].siemens * u * u;
	}
	for (int k = 0; k < c->n_paths; k++) {
		double u = mesh_across(&c->paths[k].at, c->volts);
		watts += u * path_amps(&c->paths[k], u);
	}
	for (int k = 0; k < c->n_chokes; k++)
		watts += c->chokes[k].ohms * c->chokes[k].amps * c->chokes[k].amps;
	for (int k = 0; k < c->n_loads; k++) {
		const struct rail_load *load = &c->loads[k];
		double u = c->volts[load->at.node[0]];
		watts += u * (load->amps + load->siemens * (u - load->tangent_volts));
	}
	for (int k = 0; k < c->n_gases; k++) {
		const struct gas *gas = &c->gases[k];
		double u = c->volts[gas->at.node[0]];
		if (gas->lit && u > gas->hold_volts)
			watts += u * gas->siemens * (u - gas->hold_volts);
	}
	return watts;
}

/* A rail that moved far from its tangent (no reservoir, a regulator that struck) gets a new one
 * without waiting for the chunk to end. */
static void mend_tangents(struct circuit *c)
{
	for (int k = 0; k < c->n_loads; k++) {
		struct rail_load *load = &c->loads[k];
		double off = fabs(c->volts[load->at.node[0]] - load->tangent_volts);
		if (off < 0.01 * load->tangent_volts + 0.2)
			continue;
		double before = load->siemens;
		take_tangent(c, load);
		mesh_add_siemens(c->base_value, &load->at, load->siemens - before);
	}
}

void circuit_step(struct circuit *c, double line_volts)
{
	double history[MESH_NODES_MAX];

	add_history(c, line_volts, history);
	for (int n = 0; n < c->mesh.n; n++) {
		double guess = 2 * c->volts[n] - c->volts_before[n];
		c->volts_before[n] = c->volts[n];
		c->volts[n] = guess;
	}
	iterate(c, history);

	double watts = spent_watts(c, line_volts);
	for (int k = 0; k < c->n_groups; k++) {
		struct heater_group *g = &c->groups[k];
		double u = mesh_across(&c->fixed[g->fixed].at, c->volts);
		g->volts_squared += u * u;
	}
	advance_states(c);
	watts += advance_passes(c);
	c->spent_joule += watts * c->step_s;
	c->line_amps = c->fixed[c->source].siemens * (line_volts - c->volts[c->line_node]);
	c->steps++;
	if (++c->chunk_steps == CIRCUIT_STEPS_A_CHUNK)
		circuit_update(c);
	else
		mend_tangents(c);
}

double circuit_rail_volts(const struct circuit *c, int rail)
{
	return c->volts[c->rail_node[rail]];
}

double circuit_stored(const struct circuit *c)
{
	double joule = 0;

	for (int k = 0; k < c->n_caps; k++)
		joule += c->caps[k].farad / 2 * c->caps[k].volts * c->caps[k].volts;
	for (int k = 0; k < c->n_chokes; k++)
		joule += c->chokes[k].henry / 2 * c->chokes[k].amps * c->chokes[k].amps;
	if (c->emf_node >= 0) {
		const struct flux *f = &c->flux;
		double s = f->weber / f->rated_weber;
		joule += f->rated_weber * (f->linear * s * s / 2 + f->ninth * pow(s, 10) / 10);
	}
	return joule;
}
