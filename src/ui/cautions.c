/* ui/cautions.c - see cautions.h */
#include "ui/cautions.h"

const char *const cautions[] = {
	"Mains and rail voltages kill. Filter capacitors keep their charge after the plug is out: "
	"discharge them, then measure, before you touch.",
	"A variac gives no isolation. Fuse its output. Use an RCD/GFCI on the bench supply.",
	"A set without a power transformer has a live chassis: isolation transformer, and never a "
	"scope ground on it.",
	"One hand, insulated clips, nobody works alone. Never leave a powered unit unattended.",
	"mainstair watches and advises; it switches nothing and protects nobody. The plug within "
	"your reach does.",
	"Smoke, smell, hum, arcing beat any number: plug out first, then press !",
	"Local electrical codes and a licensed person's word stand above anything it prints.",
};
const size_t n_cautions = sizeof cautions / sizeof *cautions;

const char caution_live_chassis[] =
	"THIS SET'S CHASSIS IS LIVE: isolation transformer, and never a scope ground on it.";

const char caution_not_isolated[] =
	"YOUR BENCH FILE SAYS isolation = no. Do not plug this set in before there is an isolation "
	"transformer.";
