/*
 * cli/commands.h - one function a command
 *
 * Layer: cli.  argv[0] is the command's own name ("tubes"), what follows are its options and
 * operands.  Each prints to standard output, complains on standard error as `mainstair: …`, one
 * line each, and returns the exit status; none calls exit().
 */
#ifndef MAINSTAIR_CLI_COMMANDS_H
#define MAINSTAIR_CLI_COMMANDS_H

/* Exit statuses that all commands share; what else one returns stands beside it. */
enum { EXIT_DONE = 0, EXIT_USAGE = 2 /* bad usage or input: nothing was done */ };

int cmd_tubes(int argc, char **argv);    /* 1: nothing matches */
int cmd_envelope(int argc, char **argv);
int cmd_judge(int argc, char **argv);    /* 1: something over or under, 3: an abort */
int cmd_reform(int argc, char **argv);   /* 1: not formed yet, 3: failing, stop now */
int cmd_compare(int argc, char **argv);  /* 1: something differs, 4: something cannot be told */
int cmd_report(int argc, char **argv);
int cmd_check(int argc, char **argv);
int cmd_simulate(int argc, char **argv);
int cmd_ports(int argc, char **argv);    /* 1: no port, or its meter is not right yet */

int cmd_run(int argc, char **argv);      /* without a terminal 1: over or under, 3: an abort;
                                             128 + N: ended by signal N */
int cmd_job(int argc, char **argv);      /* 1: something blocks power */
int cmd_enter(int argc, char **argv);    /* 1: not kept, it is asked about */
int cmd_replay(int argc, char **argv);   /* 128 + N: ended by signal N */

#endif
