/*
 * Real ports, through libserialport: opening and listing.  What version 0.1.1 leaves undone is
 * repaired here or in wire_tidy(): it neither locks nor clears CRTSCTS, leaves software flow
 * control on until told, keeps stale input, and would trace over the screen.
 */
#include "io/wire_ends.h"

#include <dirent.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <libserialport.h>

#include "mainstair/base/text.h"

static void close_port(void *end)
{
	(void)sp_close(end);
	sp_free_port(end);
}

/* The library's ways to refuse in words; for one of them the system has its own. */
static int refused(struct err *err, enum err_code code, enum sp_return rc, const char *name,
                   const char *what)
{
	char *text = rc == SP_ERR_FAIL ? sp_last_error_message() : NULL, shown[WIRE_NAME_MAX];
	const char *why = text ? text : rc == SP_ERR_MEM ? "out of memory"
	                : rc == SP_ERR_SUPP ? "not supported" : "not valid for it";

	text_show(shown, sizeof shown, name, strlen(name));
	(void)err_set(err, code, "%s: %s: %s", shown, what, why);
	if (text)
		sp_free_error_message(text);
	return -1;
}

static int configure(struct sp_port *port, const struct wire_settings *s, struct err *err)
{
	enum sp_parity parity = s->parity == 'E' ? SP_PARITY_EVEN
	                      : s->parity == 'O' ? SP_PARITY_ODD : SP_PARITY_NONE;
	enum sp_return rc = sp_set_baudrate(port, s->baud);

	if (rc != SP_OK)
		return refused(err, ERR_RANGE, rc, s->name, "it cannot do this baud rate");
	/* also when it looks like the default: or XON/XOFF eats the bytes 11 and 13 */
	rc = sp_set_flowcontrol(port, SP_FLOWCONTROL_NONE);
	if (rc != SP_OK)
		return refused(err, ERR_RANGE, rc, s->name, "flow control cannot be switched off");
	rc = sp_set_bits(port, s->data_bits);
	if (rc == SP_OK)
		rc = sp_set_parity(port, parity);
	if (rc == SP_OK)
		rc = sp_set_stopbits(port, s->stop_bits);
	if (rc != SP_OK)
		return refused(err, ERR_RANGE, rc, s->name, "it cannot do this framing");
	return 0;
}

int wire_serial_open(const struct wire_settings *settings, struct wire **ret, struct err *err)
{
	struct sp_port *port = NULL;
	enum sp_return rc;
	struct wire *w;
	int fd, lock;

	sp_set_debug_handler(NULL); /* its environment variable would write over the screen */
	/* before sp_open(), which would reset the other user's baud rate */
	lock = wire_lock(settings->name, err);
	if (lock < 0)
		return -1;
	w = wire_adopt(lock);
	if (!w) {
		(void)close(lock);
		return err_set(err, ERR_NOMEM, "out of memory");
	}
	rc = sp_get_port_by_name(settings->name, &port);
	if (rc != SP_OK) {
		refused(err, ERR_SYSTEM, rc, settings->name,
		        "the system knows no such serial port");
		goto fail;
	}
	rc = sp_open(port, SP_MODE_READ_WRITE);
	if (rc != SP_OK) {
		refused(err, ERR_SYSTEM, rc, settings->name, "cannot open it");
		sp_free_port(port);
		goto fail;
	}
	w->lock = lock;
	w->end = port;
	w->close_end = close_port;
	if (configure(port, settings, err) < 0)
		goto fail;
	rc = sp_get_port_handle(port, &fd);
	if (rc == SP_OK)
		rc = sp_flush(port, SP_BUF_BOTH);
	if (rc == SP_OK && wire_tidy(fd, settings->handshake) < 0)
		rc = SP_ERR_FAIL;
	if (rc != SP_OK) {
		refused(err, ERR_SYSTEM, rc, settings->name, "cannot set it up");
		goto fail;
	}
	w->fd = fd;
	*ret = w;
	return 0;
fail:
	wire_close(w); /* the lock, too */
	return -1;
}

/* The name under /dev/serial/by-id that leads to this port: it stays the same wherever the
 * adapter is plugged in. */
static void find_by_id(const char *name, char ret[WIRE_NAME_MAX])
{
	static const char folder[] = "/dev/serial/by-id";
	char link[PATH_MAX], real[PATH_MAX], port[PATH_MAX];
	struct dirent *entry;
	DIR *dir = opendir(folder);

	ret[0] = 0;
	if (!dir)
		return;
	while (realpath(name, port) && (entry = readdir(dir)) != NULL) {
		if (entry->d_name[0] == '.')
			continue;
		(void)snprintf(link, sizeof link, "%s/%s", folder, entry->d_name);
		if (strlen(link) < WIRE_NAME_MAX && realpath(link, real) && strcmp(real, port) == 0)
			strcpy(ret, link);
	}
	(void)closedir(dir);
}

int wire_ports(struct wire_port *ret, size_t max, struct err *err)
{
	struct sp_port **list;
	enum sp_return rc;
	int n = 0;

	sp_set_debug_handler(NULL);
	rc = sp_list_ports(&list);
	if (rc != SP_OK)
		return refused(err, ERR_SYSTEM, rc, "/dev", "the serial ports cannot be listed");
	for (size_t i = 0; list[i] && (size_t)n < max; i++) {
		const char *name = sp_get_port_name(list[i]);
		const char *text = sp_get_port_description(list[i]);
		struct wire_port *port = &ret[n];

		if (!name || !strchr(name, '/') || strlen(name) >= sizeof port->name)
			continue;
		strcpy(port->name, name);
		text_show(port->description, sizeof port->description, text ? text : "",
		          text ? strlen(text) : 0);
		/* the library falls back to the bare name, which says nothing */
		if (strcmp(port->description, strrchr(name, '/') + 1) == 0)
			port->description[0] = 0;
		find_by_id(name, port->by_id);
		n++;
	}
	sp_free_port_list(list);
	return n;
}
