#include "interop/modbus_peer.h"

#include <modbus.h>
#include <signal.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

/* The four orders, from the bits of the float.  Version 3.1.6 writes them with the bytes of each
 * register swapped (corrected in later ones) but reads them right, so its readers are the judge. */
static int put_float(uint16_t *r, float value)
{
	uint32_t bits;
	uint16_t high, low;

	memcpy(&bits, &value, sizeof bits);
	high = (uint16_t)(bits >> 16);
	low = (uint16_t)bits;
	r[PEER_ABCD] = high;
	r[PEER_ABCD + 1] = low;
	r[PEER_CDAB] = low;
	r[PEER_CDAB + 1] = high;
	r[PEER_BADC] = (uint16_t)(high << 8 | high >> 8);
	r[PEER_BADC + 1] = (uint16_t)(low << 8 | low >> 8);
	r[PEER_DCBA] = r[PEER_BADC + 1];
	r[PEER_DCBA + 1] = r[PEER_BADC];
	return modbus_get_float_abcd(r + PEER_ABCD) == value &&
	       modbus_get_float_cdab(r + PEER_CDAB) == value &&
	       modbus_get_float_badc(r + PEER_BADC) == value &&
	       modbus_get_float_dcba(r + PEER_DCBA) == value ? 0 : -1;
}

static int fill(modbus_mapping_t *map)
{
	static const float values[3] = { PEER_VOLTS, PEER_AMPS, PEER_WATTS };

	for (int i = 0; i < 3; i++)
		if (put_float(map->tab_input_registers + 2 * i, values[i]) < 0)
			return -1;
	map->tab_registers[PEER_HOLDING_VOLTS] = 1172;
	map->tab_registers[PEER_HOLDING_VOLTS + 1] = 241;
	map->tab_registers[PEER_HOLDING_VOLTS + 2] = 269;
	return 0;
}

static int serve(const char *port, int baud, int unit)
{
	modbus_t *ctx = modbus_new_rtu(port, baud, 'N', 8, 1);
	modbus_mapping_t *map = modbus_mapping_new(0, 0, PEER_REGISTERS, PEER_REGISTERS);
	uint8_t query[MODBUS_RTU_MAX_ADU_LENGTH];

	if (!ctx || !map || modbus_set_slave(ctx, unit) < 0 || modbus_connect(ctx) < 0 ||
	    fill(map) < 0)
		return 1;
	for (;;) {
		int n = modbus_receive(ctx, query);

		if (n > 0)
			(void)modbus_reply(ctx, query, n, map);
	}
}

pid_t modbus_peer_start(const char *port, int baud, int unit)
{
	pid_t child = fork();

	if (child == 0) {
		(void)prctl(PR_SET_PDEATHSIG, SIGKILL);
		_exit(serve(port, baud, unit));
	}
	return child;
}

void modbus_peer_end(pid_t peer)
{
	if (peer > 0) {
		(void)kill(peer, SIGKILL);
		(void)waitpid(peer, NULL, 0);
	}
}
