#include "report/figure.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "report/room.h"

void figure_init(struct figure *f)
{
	*f = (struct figure){.x = {.low = NAN, .high = NAN}, .y = {.low = NAN, .high = NAN}};
}

void figure_release(struct figure *f)
{
	free(f->band);
	free(f->point);
	free(f->run);
	free(f->dot);
	figure_init(f);
}

void figure_band(struct figure *f, double x, double low, double high)
{
	void *grown = room_for(f->band, &f->band_room, f->n_band, sizeof *f->band);

	if (!grown) {
		f->failed = true;
		return;
	}
	f->band = grown;
	f->band[f->n_band++] = (struct figure_band_point){x, low, high};
}

void figure_line(struct figure *f, enum figure_line line)
{
	void *grown = room_for(f->run, &f->run_room, f->n_runs, sizeof *f->run);

	if (!grown) {
		f->failed = true;
		return;
	}
	f->run = grown;
	f->run[f->n_runs++] = (struct figure_run){line, f->n_points, 0};
}

void figure_point(struct figure *f, double x, double y)
{
	void *grown = room_for(f->point, &f->point_room, f->n_points, sizeof *f->point);

	if (grown)
		f->point = grown;
	if (!grown || f->n_runs == 0) {
		f->failed = true;
		return;
	}
	f->point[f->n_points++] = (struct figure_point){x, y};
	f->run[f->n_runs - 1].n++;
}

void figure_dot(struct figure *f, double x, double y, enum figure_mark mark)
{
	void *grown = room_for(f->dot, &f->dot_room, f->n_dots, sizeof *f->dot);

	if (!grown) {
		f->failed = true;
		return;
	}
	f->dot = grown;
	f->dot[f->n_dots++] = (struct figure_dot){x, y, mark};
}

void figure_level(struct figure *f, double y, const char *name)
{
	if (f->n_levels == (int)(sizeof f->level / sizeof *f->level))
		return;
	f->level[f->n_levels].y = y;
	(void)snprintf(f->level[f->n_levels].name, sizeof f->level[0].name, "%s", name);
	f->n_levels++;
}
