#include "lib/fake_line.h"

#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

struct fake_line fake_line = { .fd = -1 };

void fake_line_init(void)
{
	fake_line = (struct fake_line){ .plugged = true, .fd = -1, .now_ms = 1000 };
}

int fake_line_open(const struct wire_settings *settings, struct wire **ret, struct err *err)
{
	int pair[2];

	fake_line.opened++;
	if (!fake_line.plugged)
		return err_set(err, ERR_SYSTEM, "there is no port %s", settings->name);
	if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0, pair) < 0)
		return err_set(err, ERR_SYSTEM, "no socket pair");
	if (fake_line.fd >= 0)
		(void)close(fake_line.fd);
	fake_line.fd = pair[1];
	*ret = wire_adopt(pair[0]);
	return *ret ? 0 : err_set(err, ERR_NOMEM, "out of memory");
}

void fake_line_unplug(void)
{
	fake_line.plugged = false;
	if (fake_line.fd >= 0)
		(void)close(fake_line.fd);
	fake_line.fd = -1;
}

void fake_line_run(struct meter *m, int64_t ms, void (*take)(const struct reading *r))
{
	struct reading r;

	while (ms-- > 0) {
		struct pollfd p = { .events = POLLIN };

		fake_line.now_ms++;
		if (fake_line.device && fake_line.fd >= 0)
			fake_line.device(fake_line.fd, fake_line.now_ms);
		p.fd = meter_fd(m);
		if ((p.fd >= 0 && poll(&p, 1, 0) > 0) || fake_line.now_ms >= meter_due(m))
			meter_step(m, p.revents, fake_line.now_ms);
		while (take && meter_next(m, &r))
			take(&r);
	}
}
