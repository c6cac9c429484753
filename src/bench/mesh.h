/*
 * bench/mesh.h - the nodal equations of a small circuit, set up once and solved over and over
 *
 * Layer: bench; libc only.  Pure.
 * A branch carries i = g u + j, where u is a weighted sum of up to four node voltages (an ideal
 * transformer is a weight).  Its current leaves each of its nodes times that node's weight, so
 * the matrix is symmetric; with every g >= 0 and no node left floating it is positive definite
 * and needs no pivoting.  The order of elimination and every index are found once, in
 * mesh_order(): one factorisation of a power supply is then some hundred flops.
 */
#ifndef MAINSTAIR_BENCH_MESH_H
#define MAINSTAIR_BENCH_MESH_H

enum {
	MESH_NODES_MAX = 128,
	MESH_TERMS_MAX = 4,
	MESH_PAIRS_MAX = MESH_TERMS_MAX * (MESH_TERMS_MAX + 1) / 2,
	MESH_ENTRIES_MAX = 1024, /* diagonal and off-diagonal, fill-in included */
	MESH_UPDATES_MAX = 6144
};

/* Where a branch touches the mesh. */
struct mesh_branch {
	int n;                           /* terms in use */
	int node[MESH_TERMS_MAX];
	double weight[MESH_TERMS_MAX];
	int slot[MESH_PAIRS_MAX];        /* matrix entries, filled by mesh_order() */
	double pair[MESH_PAIRS_MAX];     /* products of weights */
	int n_pairs;
};

struct mesh {
	int n;                               /* nodes */
	int n_entries;                       /* of value[]: n diagonal ones first */
	int order[MESH_NODES_MAX];           /* order[k]: node eliminated k-th */
	int first[MESH_NODES_MAX + 1];       /* pivot k's column: entries first[k]..first[k+1]-1 */
	int column_entry[MESH_ENTRIES_MAX];  /* … its entry in value[] */
	int column_node[MESH_ENTRIES_MAX];   /* … the node of that row */
	int first_update[MESH_NODES_MAX + 1];
	struct mesh_update {
		int target, left, right;     /* value[target] -= value[left] value[right] / pivot */
	} updates[MESH_UPDATES_MAX];
	int n_updates;

	double value[MESH_ENTRIES_MAX];
	double rhs[MESH_NODES_MAX];
};

/** Begin a mesh of n nodes (1..MESH_NODES_MAX). */
void mesh_init(struct mesh *m, int n);

/** Find the order of elimination for these branches, and their slots.  0, or -1 when the circuit
 *  is too large for the limits above. */
int mesh_order(struct mesh *m, struct mesh_branch *const *branches, int n_branches);

/** Add a branch's conductance to value[]. */
static inline void mesh_add_siemens(double *value, const struct mesh_branch *br, double g)
{
	for (int k = 0; k < br->n_pairs; k++)
		value[br->slot[k]] += br->pair[k] * g;
}

/** Add its own current to rhs[]. */
static inline void mesh_add_amps(double *rhs, const struct mesh_branch *br, double j)
{
	for (int k = 0; k < br->n; k++)
		rhs[br->node[k]] -= br->weight[k] * j;
}

/** Both. */
static inline void mesh_add(double *value, double *rhs, const struct mesh_branch *br, double g,
                            double j)
{
	mesh_add_siemens(value, br, g);
	mesh_add_amps(rhs, br, j);
}

/** u of a branch at these node voltages. */
static inline double mesh_across(const struct mesh_branch *br, const double *volts)
{
	double u = 0;
	for (int k = 0; k < br->n; k++)
		u += br->weight[k] * volts[br->node[k]];
	return u;
}

/** Factor value[] (destroyed) and solve for the node voltages; rhs[] is destroyed too. */
void mesh_solve(struct mesh *m, double *ret_volts);

#endif
