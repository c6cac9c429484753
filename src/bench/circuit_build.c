/*
 * bench/circuit_build.c - from a network to the branches of a mesh
 */
#include <math.h>
#include <string.h>

#include "bench/circuit.h"

static const double pi = 3.14159265358979323846;

/* No part is without resistance, no rail without wires; far below anything wound or wired. */
static const double least_wire_ohms = 1e-3; /* line, primary */
static const double least_winding_ohms = 1e-4;
static const double least_path_ohms = 0.05; /* a rectifier and its leads */
static const double least_filter_ohms = 0.01;
static const double least_leak_siemens = 1e-9;
static const double stray_farad = 1e-9;

struct terms {
	int n, node[MESH_TERMS_MAX];
	double weight[MESH_TERMS_MAX];
};

/* Nodes of a winding's ends; -1 where it has none of its own, and its one user takes the
 * winding's resistance into its own branch. */
struct winding_ends {
	int a, b;
};

struct builder {
	struct circuit *c;
	const struct network *net;
	int n_nodes;
	bool full; /* ran out of room */
	struct winding_ends ends[NET_WINDINGS_MAX];
};

static int new_node(struct builder *b)
{
	if (b->n_nodes == MESH_NODES_MAX) {
		b->full = true;
		return 0;
	}
	return b->n_nodes++;
}

static struct terms also(struct terms t, int node, double weight)
{
	t.node[t.n] = node;
	t.weight[t.n] = weight;
	t.n++;
	return t;
}

static struct terms at(int node, double weight)
{
	return also((struct terms){ 0 }, node, weight);
}

static struct terms between(int from, int to)
{
	return also(at(from, 1), to, -1);
}

static struct mesh_branch branch(struct terms t)
{
	struct mesh_branch br = { .n = t.n };

	for (int k = 0; k < t.n; k++) {
		br.node[k] = t.node[k];
		br.weight[k] = t.weight[k];
	}
	return br;
}

static int add_fixed(struct builder *b, struct terms t, double siemens)
{
	struct circuit *c = b->c;

	if (c->n_fixed == CIRCUIT_FIXED_MAX) {
		b->full = true;
		return 0;
	}
	c->fixed[c->n_fixed] = (struct fixed){ .at = branch(t), .siemens = siemens };
	return c->n_fixed++;
}

static void add_capacitor(struct builder *b, struct terms t, int rail, int part, double farad)
{
	b->c->caps[b->c->n_caps++] = (struct capacitor){
		.at = branch(t), .rail = rail, .part = part, .farad = fmax(farad, stray_farad)
	};
}

/* A choke, or without inductance the resistance that is left of it. */
static void add_filter(struct builder *b, int rail, int from, int to)
{
	const struct net_rail *nr = &b->net->rails[rail];
	double ohms = fmax(nr->series_ohms, least_filter_ohms);

	if (nr->choke_henry > 0)
		b->c->chokes[b->c->n_chokes++] = (struct choke){
			.at = branch(between(from, to)), .rail = rail,
			.henry = nr->choke_henry, .ohms = ohms
		};
	else
		add_fixed(b, between(from, to), 1 / ohms);
}

/* i = peak ((1 - share) s + share s^9), its rms at a sine of rated flux being mag_amps.  Means
 * over a cycle: sin^2 1/2, sin^10 63/256, sin^18 12155/65536. */
static void build_flux(struct flux *f, const struct network *net)
{
	double share = net->mag_share, linear = 1 - share;
	double squared = linear * linear / 2 + 2 * linear * share * 63 / 256 +
		share * share * 12155 / 65536;
	double peak = net->mag_amps / sqrt(squared);

	f->linear = peak * linear;
	f->ninth = peak * share;
	f->rated_weber = sqrt(2.0) * net->emf_rated / (2 * pi * net->line_hz);
}

/* The line, its cord, a short across it, the primary and the core. */
static void build_line(struct builder *b)
{
	struct circuit *c = b->c;
	const struct network *net = b->net;

	c->line_node = new_node(b);
	c->emf_node = c->core = -1;
	c->source = add_fixed(b, at(c->line_node, 1), 1 / fmax(net->source_ohms, least_wire_ohms));
	if (net->line_shunt_siemens > 0)
		add_fixed(b, at(c->line_node, 1), net->line_shunt_siemens);
	if (!net->transformer)
		return;
	c->emf_node = new_node(b);
	add_fixed(b, between(c->line_node, c->emf_node),
	          1 / fmax(net->primary_ohms, least_wire_ohms));
	c->core = add_fixed(b, at(c->emf_node, 1), 0);
	if (net->turn_siemens > 0)
		add_fixed(b, at(c->emf_node, 1), net->turn_siemens);
	c->flux.at = branch(at(c->emf_node, 1));
	build_flux(&c->flux, net);
}

static bool heats(const struct network *net, int winding)
{
	for (int k = 0; k < net->n_heaters; k++)
		if (net->heaters[k].winding == winding)
			return true;
	return false;
}

static double whole_ratio(const struct net_winding *w)
{
	return w->centre_tapped ? 2 * w->ratio : w->ratio;
}

/* A winding with several users, or a short within it, gets nodes for its ends. */
static void build_winding(struct builder *b, int k)
{
	const struct net_winding *w = &b->net->windings[k];
	struct winding_ends *ends = &b->ends[k];
	double ohms = fmax(w->ohms, least_winding_ohms);
	int users = heats(b->net, k);

	for (int r = 0; r < b->net->n_rails; r++)
		users += b->net->rails[r].source == RAIL_FROM_WINDING &&
			b->net->rails[r].winding == k;
	*ends = (struct winding_ends){ -1, -1 };
	if (b->c->emf_node < 0 || (users < 2 && w->short_siemens <= 0))
		return;

	ends->a = new_node(b);
	if (w->centre_tapped) {
		ohms /= 2;
		ends->b = new_node(b);
		add_fixed(b, also(at(ends->b, 1), b->c->emf_node, w->ratio), 1 / ohms);
	}
	add_fixed(b, also(at(ends->a, 1), b->c->emf_node, -w->ratio), 1 / ohms);
	if (w->short_siemens > 0)
		add_fixed(b, at(ends->a, 1), w->short_siemens);
}

/* The whole of a winding as a source for one branch; *ret_ohms: what the branch must carry of
 * its resistance.  sign: +1, -1. */
static struct terms whole_winding(const struct builder *b, int k, double sign, double *ret_ohms)
{
	const struct net_winding *w = &b->net->windings[k];
	const struct winding_ends *ends = &b->ends[k];

	*ret_ohms = 0;
	if (ends->a >= 0 && ends->b >= 0)
		return also(at(ends->a, sign), ends->b, -sign);
	if (ends->a >= 0)
		return at(ends->a, sign);
	*ret_ohms = w->ohms;
	return at(b->c->emf_node, sign * whole_ratio(w));
}

/* One half of a centre-tapped one. */
static struct terms half_winding(const struct builder *b, int k, double sign, double *ret_ohms)
{
	const struct net_winding *w = &b->net->windings[k];
	const struct winding_ends *ends = &b->ends[k];

	if (!w->centre_tapped)
		return whole_winding(b, k, sign, ret_ohms);
	*ret_ohms = 0;
	if (ends->a >= 0)
		return at(sign > 0 ? ends->a : ends->b, 1);
	*ret_ohms = w->ohms / 2;
	return at(b->c->emf_node, sign * w->ratio);
}

static void build_heaters(struct builder *b)
{
	struct circuit *c = b->c;
	const struct network *net = b->net;

	for (int k = -1; k < net->n_windings; k++) {
		struct heater_group *g = &c->groups[c->n_groups];
		if (!heats(net, k) || (k >= 0 && c->emf_node < 0))
			continue;
		*g = (struct heater_group){ .winding = k };
		if (k < 0) {
			g->series_ohms = net->dropper_ohms;
			g->fixed = add_fixed(b, at(c->line_node, 1), 0);
		} else {
			struct terms t = whole_winding(b, k, 1, &g->series_ohms);
			g->fixed = add_fixed(b, t, 0);
		}
		c->n_groups++;
	}
	for (int k = 0; k < net->n_heaters; k++) {
		const struct net_heater *h = &net->heaters[k];
		thermal_init(&c->heaters[k], h->kind, h->volts, h->amps, net->heater_conduction);
		c->emission_u[k] = -1;
	}
}

/* One conduction path from the rail's source into node `to` (and, for the lower half of a
 * doubler, against node `less`). */
static void add_path(struct builder *b, int rail, double sign, int to, int less)
{
	const struct net_rail *nr = &b->net->rails[rail];
	struct circuit *c = b->c;
	double ohms = 0;
	struct terms t;

	if (nr->source == RAIL_FROM_LINE)
		t = at(c->line_node, sign);
	else if (nr->form == FORM_BRIDGE || nr->form == FORM_DOUBLER)
		t = whole_winding(b, nr->winding, sign, &ohms);
	else
		t = half_winding(b, nr->winding, sign, &ohms);
	t = also(t, to, -1);
	if (less >= 0)
		t = also(t, less, 1);

	ohms = fmax(ohms + nr->surge_ohms, least_path_ohms);
	if (nr->plate_short_siemens > 0 && sign > 0)
		add_fixed(b, t, 1 / (ohms + 1 / nr->plate_short_siemens));

	struct path *p = &c->paths[c->n_paths++];
	*p = (struct path){ .at = branch(t), .rail = rail, .ohms = ohms, .saturation = INFINITY };
	if (nr->drop_amps > 0 && nr->drop_volts > 0)
		p->perveance = nr->drop_amps / pow(nr->drop_volts, 1.5);
	else
		p->drop_volts = nr->drop_volts;
}

static void build_rectifier(struct builder *b, int rail)
{
	const struct net_rail *nr = &b->net->rails[rail];
	int to = b->c->rail_node[rail];

	if (nr->form == FORM_DOUBLER) {
		int middle = new_node(b);
		add_capacitor(b, at(middle, 1), rail, 0, nr->farad[0]);
		add_capacitor(b, between(to, middle), rail, 1, nr->farad[1]);
		add_fixed(b, at(middle, 1), least_leak_siemens);
		if (nr->dead)
			return;
		add_path(b, rail, 1, middle, -1);
		add_path(b, rail, -1, to, middle);
		return;
	}
	add_capacitor(b, at(to, 1), rail, 0, nr->farad[0]);
	if (nr->choke_input || nr->series_ohms > 0) {
		int cathode = new_node(b);
		add_filter(b, rail, cathode, to);
		add_capacitor(b, at(cathode, 1), rail, 2, 0);
		add_fixed(b, at(cathode, 1), least_leak_siemens);
		to = cathode;
	}
	if (nr->dead)
		return;
	add_path(b, rail, 1, to, -1);
	if (nr->form != FORM_HALF_WAVE)
		add_path(b, rail, -1, to, -1);
}

static void build_pass(struct builder *b, int rail, int from)
{
	const struct net_rail *nr = &b->net->rails[rail];
	int to = b->c->rail_node[rail];

	if (nr->series_ohms > 0) {
		int plate = new_node(b);
		add_fixed(b, between(from, plate), 1 / nr->series_ohms);
		add_capacitor(b, at(plate, 1), rail, 2, 0);
		from = plate;
	}
	b->c->passes[b->c->n_passes++] = (struct pass){
		.at = branch(between(from, to)), .rail_at = branch(at(to, -1)),
		.parent_at = branch(at(from, 1)), .rail = rail,
		/* one per cent of droop from no load to rated */
		.set_siemens = nr->pass_amps / (0.01 * nr->pass_volts)
	};
}

static void build_rail(struct builder *b, int rail)
{
	const struct net_rail *nr = &b->net->rails[rail];
	struct circuit *c = b->c;
	int node = c->rail_node[rail];

	if (nr->source != RAIL_FROM_RAIL) {
		build_rectifier(b, rail);
	} else {
		add_capacitor(b, at(node, 1), rail, 0, nr->farad[0]);
		if (!nr->dead && nr->regulator == REGULATOR_SERIES_PASS)
			build_pass(b, rail, c->rail_node[nr->parent]);
		else if (!nr->dead)
			add_filter(b, rail, c->rail_node[nr->parent], node);
	}
	add_fixed(b, at(node, 1), least_leak_siemens + nr->leak_siemens +
	          (nr->bleeder_ohms > 0 ? 1 / nr->bleeder_ohms : 0));
	if (nr->n_draws > 0)
		c->loads[c->n_loads++] = (struct rail_load){
			.at = branch(at(node, 1)), .rail = rail
		};
	if (nr->regulator == REGULATOR_GAS)
		c->gases[c->n_gases++] = (struct gas){
			.at = branch(at(node, 1)), .rail = rail, .strike_volts = nr->strike_volts,
			.hold_volts = nr->hold_volts, .siemens = 1 / nr->regulator_ohms
		};
}

/* Carry over what a fault does not change. */
static void take_state(struct circuit *c, const struct circuit *from)
{
	for (int k = 0; k < c->n_caps; k++)
		for (int j = 0; j < from->n_caps; j++)
			if (c->caps[k].rail == from->caps[j].rail &&
			    c->caps[k].part == from->caps[j].part) {
				c->caps[k].volts = from->caps[j].volts;
				c->caps[k].volts_before = from->caps[j].volts_before;
			}
	for (int k = 0; k < c->n_chokes; k++)
		for (int j = 0; j < from->n_chokes; j++)
			if (c->chokes[k].rail == from->chokes[j].rail) {
				c->chokes[k].amps = from->chokes[j].amps;
				c->chokes[k].amps_before = from->chokes[j].amps_before;
			}
	for (int k = 0; k < c->n_gases; k++)
		for (int j = 0; j < from->n_gases; j++)
			if (c->gases[k].rail == from->gases[j].rail)
				c->gases[k].lit = from->gases[j].lit;
	for (int r = 0; r < c->net->n_rails; r++) {
		c->volts[c->rail_node[r]] = from->volts[from->rail_node[r]];
		c->volts_before[c->rail_node[r]] = from->volts_before[from->rail_node[r]];
	}
	c->flux.weber = from->flux.weber;
	c->flux.weber_before = from->flux.weber_before;
	c->emf_squared = from->emf_squared;
	c->spent_joule = from->spent_joule;
	c->steps = from->steps;
	c->iterations = from->iterations;
	c->unsettled = from->unsettled;
	for (int k = 0; k < c->net->n_heaters; k++) {
		c->heaters[k].u = from->heaters[k].u;
		c->heaters[k].seconds = from->heaters[k].seconds;
		thermal_rate(&c->heaters[k], c->net->heaters[k].volts, c->net->heaters[k].amps);
		c->heater_squared[k] = from->heater_squared[k];
	}
}

static int order_mesh(struct circuit *c, int n_nodes, struct err *err)
{
	enum { ALL_MAX = CIRCUIT_FIXED_MAX + CIRCUIT_CAPS_MAX + CIRCUIT_CHOKES_MAX +
	                 CIRCUIT_PATHS_MAX + 6 * NET_RAILS_MAX };
	struct mesh_branch *all[ALL_MAX];
	int n = 0;

	for (int k = 0; k < c->n_fixed; k++)
		all[n++] = &c->fixed[k].at;
	for (int k = 0; k < c->n_caps; k++)
		all[n++] = &c->caps[k].at;
	for (int k = 0; k < c->n_chokes; k++)
		all[n++] = &c->chokes[k].at;
	for (int k = 0; k < c->n_paths; k++)
		all[n++] = &c->paths[k].at;
	for (int k = 0; k < c->n_loads; k++)
		all[n++] = &c->loads[k].at;
	for (int k = 0; k < c->n_gases; k++)
		all[n++] = &c->gases[k].at;
	for (int k = 0; k < c->n_passes; k++) {
		all[n++] = &c->passes[k].at;
		all[n++] = &c->passes[k].rail_at;
		all[n++] = &c->passes[k].parent_at;
	}
	if (c->emf_node >= 0)
		all[n++] = &c->flux.at;
	mesh_init(&c->mesh, n_nodes);
	if (mesh_order(&c->mesh, all, n) != 0)
		return err_set(err, ERR_RANGE, "the unit is too large for the virtual bench");
	return 0;
}

/* What cannot be a circuit: a network comes from network_build(), but a caller may have changed
 * it. */
static int check(const struct network *net, struct err *err)
{
	bool bad = !(net->line_hz >= 10 && net->line_hz <= 1000);

	bad = bad || (net->transformer && !(net->emf_rated > 0 && net->mag_amps >= 0 &&
	              net->mag_share >= 0 && net->mag_share <= 1 && net->core_watts >= 0));
	for (int k = 0; k < net->n_heaters; k++)
		bad = bad || !(net->heaters[k].volts > 0 && net->heaters[k].amps > 0);
	for (int r = 0; r < net->n_rails; r++) {
		const struct net_rail *nr = &net->rails[r];
		bad = bad || (nr->regulator == REGULATOR_GAS && !(nr->regulator_ohms > 0));
		bad = bad || (nr->regulator == REGULATOR_SERIES_PASS &&
		              !(nr->pass_volts > 0 && nr->pass_amps > 0 &&
		                nr->pass_drop_volts > 0));
		bad = bad || (nr->source == RAIL_FROM_WINDING && !net->transformer);
		for (int d = 0; d < nr->n_draws; d++)
			bad = bad || !(nr->draws[d].volts > 0 && nr->draws[d].amps >= 0);
	}
	if (bad)
		return err_set(err, ERR_RANGE,
		               "the unit cannot be put on the virtual bench: a part has no value");
	return 0;
}

int circuit_build(struct circuit *c, const struct network *net, const struct circuit *from,
                  struct err *err)
{
	struct builder b = { .c = c, .net = net };

	if (check(net, err) != 0)
		return -1;
	memset(c, 0, sizeof *c);
	c->net = net;
	c->step_s = 1 / (net->line_hz * CIRCUIT_STEPS_A_CYCLE);
	build_line(&b);
	for (int k = 0; k < net->n_windings; k++)
		build_winding(&b, k);
	build_heaters(&b);
	for (int r = 0; r < net->n_rails; r++)
		c->rail_node[r] = new_node(&b);
	for (int r = 0; r < net->n_rails; r++)
		build_rail(&b, r);
	if (b.full)
		return err_set(err, ERR_RANGE, "the unit is too large for the virtual bench");
	if (order_mesh(c, b.n_nodes, err) != 0)
		return -1;
	if (from)
		take_state(c, from);
	circuit_update(c);
	return 0;
}
