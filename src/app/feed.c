#include "app/feed.h"

#include <math.h>

static int no_fd(void *self)
{
	(void)self;
	return -1;
}

static double never_due(void *self)
{
	(void)self;
	return (double)INFINITY;
}

static void no_step(void *self, short revents, double now_s)
{
	(void)self;
	(void)revents;
	(void)now_s;
}

static bool no_event(void *self, struct event *ret)
{
	(void)self;
	(void)ret;
	return false;
}

static bool no_health(void *self, double now_s, char *ret, size_t size)
{
	(void)self;
	(void)now_s;
	if (size > 0)
		ret[0] = '\0';
	return true;
}

struct feed feed_typed(void)
{
	static const struct feed_ops ops = {
		.fd = no_fd, .due = never_due, .step = no_step, .next = no_event,
		.describe = no_health,
	};
	return (struct feed){.ops = &ops, .source = "typed readings"};
}

void feed_close(struct feed *f)
{
	if (f->ops && f->ops->close)
		f->ops->close(f->self);
	*f = (struct feed){0};
}
