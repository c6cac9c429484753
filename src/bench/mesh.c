#include "bench/mesh.h"

#include <assert.h>
#include <stdbool.h>
#include <string.h>

void mesh_init(struct mesh *m, int n)
{
	assert(n >= 1 && n <= MESH_NODES_MAX);
	memset(m, 0, sizeof *m);
	m->n = n;
}

/* Entry of value[] for a pair of nodes, -1: not there yet. */
struct pattern {
	int entry[MESH_NODES_MAX][MESH_NODES_MAX];
};

static int pattern_need(struct mesh *m, struct pattern *p, int a, int b)
{
	if (p->entry[a][b] < 0) {
		if (m->n_entries == MESH_ENTRIES_MAX)
			return -1;
		p->entry[a][b] = p->entry[b][a] = m->n_entries++;
	}
	return p->entry[a][b];
}

/* Of the nodes still there, the one with the fewest neighbours still there. */
static int fewest_neighbours(const struct mesh *m, const struct pattern *p, const bool *gone)
{
	int best = -1, best_count = 0;
	for (int a = 0; a < m->n; a++) {
		if (gone[a])
			continue;
		int count = 0;
		for (int b = 0; b < m->n; b++)
			count += b != a && !gone[b] && p->entry[a][b] >= 0;
		if (best < 0 || count < best_count) {
			best = a;
			best_count = count;
		}
	}
	return best;
}

static int eliminate(struct mesh *m, struct pattern *p, int k, bool *gone)
{
	int pivot = fewest_neighbours(m, p, gone);
	m->order[k] = pivot;
	gone[pivot] = true;

	int at = m->first[k];
	for (int b = 0; b < m->n; b++) {
		if (gone[b] || p->entry[pivot][b] < 0)
			continue;
		if (at == MESH_ENTRIES_MAX)
			return -1;
		m->column_entry[at] = p->entry[pivot][b];
		m->column_node[at] = b;
		at++;
	}
	m->first[k + 1] = at;

	for (int i = m->first[k]; i < at; i++)
		for (int j = m->first[k]; j <= i; j++) {
			int target = pattern_need(m, p, m->column_node[i], m->column_node[j]);
			if (target < 0 || m->n_updates == MESH_UPDATES_MAX)
				return -1;
			m->updates[m->n_updates++] = (struct mesh_update){
				target, m->column_entry[i], m->column_entry[j]
			};
		}
	m->first_update[k + 1] = m->n_updates;
	return 0;
}

int mesh_order(struct mesh *m, struct mesh_branch *const *branches, int n_branches)
{
	struct pattern p;
	bool gone[MESH_NODES_MAX] = { false };

	memset(&p, 0xff, sizeof p);
	m->n_entries = m->n;
	m->n_updates = 0;
	for (int a = 0; a < m->n; a++)
		p.entry[a][a] = a;

	for (int k = 0; k < n_branches; k++) {
		struct mesh_branch *br = branches[k];
		br->n_pairs = 0;
		for (int i = 0; i < br->n; i++)
			for (int j = 0; j <= i; j++) {
				int slot = pattern_need(m, &p, br->node[i], br->node[j]);
				if (slot < 0)
					return -1;
				/* a branch names a node once, so i != j is off the diagonal, where
				 * one entry stands for both of the symmetric pair */
				assert(i == j || br->node[i] != br->node[j]);
				br->slot[br->n_pairs] = slot;
				br->pair[br->n_pairs] = br->weight[i] * br->weight[j];
				br->n_pairs++;
			}
	}
	for (int k = 0; k < m->n; k++)
		if (eliminate(m, &p, k, gone) != 0)
			return -1;
	return 0;
}

void mesh_solve(struct mesh *m, double *ret_volts)
{
	double *value = m->value, *rhs = m->rhs;
	double inverse[MESH_NODES_MAX];

	for (int k = 0; k < m->n; k++) {
		int pivot = m->order[k];
		double over = 1 / value[pivot];
		inverse[k] = over;
		for (int u = m->first_update[k]; u < m->first_update[k + 1]; u++) {
			const struct mesh_update *up = &m->updates[u];
			value[up->target] -= value[up->left] * value[up->right] * over;
		}
		double share = rhs[pivot] * over;
		for (int e = m->first[k]; e < m->first[k + 1]; e++)
			rhs[m->column_node[e]] -= value[m->column_entry[e]] * share;
	}
	for (int k = m->n - 1; k >= 0; k--) {
		int pivot = m->order[k];
		double sum = rhs[pivot];
		for (int e = m->first[k]; e < m->first[k + 1]; e++)
			sum -= value[m->column_entry[e]] * ret_volts[m->column_node[e]];
		ret_volts[pivot] = sum * inverse[k];
	}
}
