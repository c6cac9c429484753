/*
 * ui/term_curses.c - see terminal.h.  The one file that includes curses.
 *
 * Keys are read byte by byte: get_wch() loses a character that two reads cut in half.  Signals
 * are the loop's; curses only ever sees its own KEY_RESIZE, which says nothing new.
 *
 * Curses is opened on a descriptor of its own, finds the terminal behind it, its modes and its
 * speed, and from then on writes into term_out.h's memory: the descriptor is turned there.  The
 * modes are ours from that moment on.
 */
#define NCURSES_WIDECHAR 1
#include <curses.h>
#include <fcntl.h>
#include <langinfo.h>
#include <limits.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <term.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>
#include <wchar.h>

#include "ui/term_out.h"
#include "ui/terminal.h"
#include "ui/theme.h"
#include "ui/utf8.h"

#if defined(__SANITIZE_ADDRESS__)
enum { GUARD_CRASHES = 0 }; /* the sanitizer's own report is worth more */
#else
enum { GUARD_CRASHES = 1 };
#endif

enum { GOODBYE_MS = 1000, ANSWERS_MS = 2000 }; /* a stopped terminal must not keep us */

/* The screen in the order in which a slow terminal gets it: the line that is typed, what is to be
 * done and the verdict, the rest. */
enum part { PART_BOTTOM, PART_TOP, PART_MIDDLE };
enum { BOTTOM_ROWS = 3, TOP_ROWS = 9 };

/* Where the bytes from the keyboard stand. */
enum behind {
	BEHIND_NOTHING,
	BEHIND_ESCAPE,
	BEHIND_CSI,    /* Escape [: parameters and an end */
	BEHIND_SS3     /* Escape O: one byte */
};

struct terminal {
	SCREEN *screen;
	FILE *curses_out;
	struct term_out *out;
	struct termios modes;         /* while it is ours */
	bool utf8, marks;
	attr_t attrs[ROLES];
	short pairs[ROLES];
	char partial[UTF8_BYTES_MAX]; /* of a character that has come in half */
	int n_partial;
	enum behind behind;
	int parameters;               /* bytes behind Escape [ */
	int pushed;                   /* a byte read too far ahead, or ERR */
	struct cell *shown;           /* what is shown, or NULL: not known */
	int shown_rows, shown_cols;
	int rest_from;                /* of the rows in the middle, the next one's turn */
};

/* --- giving the terminal back -------------------------------------------------------------
 * endwin() may not be called from a signal handler; write() and tcsetattr() may. */

static struct terminal *open_terminal;
static struct termios user_tty;
static char restore[256];
static int restore_fd;
static volatile sig_atomic_t guard_armed;
static const int crash_signals[] = {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT};
enum { CRASH_SIGNALS = sizeof crash_signals / sizeof *crash_signals };

static void on_crash(int sig)
{
	if (guard_armed) {
		guard_armed = 0;
		(void)!write(restore_fd, restore, strlen(restore));
		(void)tcsetattr(STDIN_FILENO, TCSANOW, &user_tty);
	}
	(void)raise(sig); /* SA_RESETHAND: the default action, with its exit status */
}

static void guard_set(void (*handler)(int))
{
	static char alternate[65536]; /* or a stack overflow could not run the handler */
	stack_t ss = {.ss_sp = alternate, .ss_size = sizeof alternate};
	struct sigaction sa = {.sa_handler = handler, .sa_flags = (int)SA_RESETHAND | SA_ONSTACK};

	sigaltstack(&ss, NULL);
	for (int i = 0; i < CRASH_SIGNALS; i++)
		sigaction(crash_signals[i], &sa, NULL);
}

static void guard_arm(const struct terminal *t)
{
	const char *const caps[] = {tigetstr("sgr0"), tigetstr("cnorm"), tigetstr("rmkx"),
		tigetstr("rmcup")};
	strcpy(restore, "\030"); /* CAN: what was begun and not ended */
	restore_fd = term_out_fd(t->out);
	for (size_t i = 0; i < sizeof caps / sizeof *caps; i++)
		if (caps[i] && caps[i] != (char *)-1)
			strncat(restore, caps[i], sizeof restore - strlen(restore) - 1);
	guard_set(on_crash);
	guard_armed = 1;
}

/* A terminal that was stopped by Ctrl-S goes on: without IXON the kernel lets it, at once. */
static void go_on(const struct terminal *t)
{
	struct termios go = t->modes;

	go.c_iflag &= ~(tcflag_t)IXON;
	if (tcsetattr(STDIN_FILENO, TCSANOW, &go) == 0)
		(void)tcsetattr(STDIN_FILENO, TCSANOW, &t->modes);
}

/* Leave the screen and give the modes back. */
static void give_back(struct terminal *t)
{
	go_on(t);
	endwin();
	term_out_drain(t->out, GOODBYE_MS);
	(void)tcsetattr(STDIN_FILENO, TCSANOW, &user_tty);
}

/* exit() called by someone below us must not leave the terminal raw. */
static void at_exit(void)
{
	if (guard_armed) {
		guard_armed = 0;
		give_back(open_terminal);
	}
}

/* --- opening ------------------------------------------------------------------------------ */

bool terminal_is_there(void)
{
	return isatty(STDIN_FILENO) && isatty(STDOUT_FILENO);
}

static short colour_number(enum colour colour)
{
	static const short numbers[] = {
	        [COLOUR_DEFAULT] = -1,        [COLOUR_RED] = COLOR_RED,
	        [COLOUR_GREEN] = COLOR_GREEN, [COLOUR_YELLOW] = COLOR_YELLOW,
	        [COLOUR_BLUE] = COLOR_BLUE,   [COLOUR_WHITE] = COLOR_WHITE,
	};
	return numbers[colour];
}

static void prepare_roles(struct terminal *t)
{
	const char *no_color = getenv("NO_COLOR");
	bool coloured = !(no_color && no_color[0]) && has_colors() && start_color() == OK &&
		use_default_colors() == OK && COLORS >= 8;
	enum theme_mode mode = coloured ? THEME_COLOUR : THEME_MONO;

	for (int role = 0; role < ROLES; role++) {
		struct look look = theme_look(mode, (enum role)role);
		t->attrs[role] = (look.bold ? A_BOLD : 0) | (look.dim ? A_DIM : 0) |
			(look.reverse ? A_REVERSE : 0) | (look.underline ? A_UNDERLINE : 0);
		t->pairs[role] = 0;
		if (coloured && (look.ink != COLOUR_DEFAULT || look.ground != COLOUR_DEFAULT)) {
			t->pairs[role] = (short)(role + 1);
			init_pair(t->pairs[role], colour_number(look.ink),
			          colour_number(look.ground));
		}
	}
}

/* Does its description say that it can be asked where its cursor is?  Such a terminal also says
 * how it is. */
static bool can_be_asked(void)
{
	const char *where = tigetstr("u7");
	return where && where != (char *)-1 && strcmp(where, "\033[6n") == 0;
}

static void release(struct terminal *t)
{
	if (t->screen)
		delscreen(t->screen);
	if (t->curses_out)
		fclose(t->curses_out);
	term_out_close(t->out);
	free(t->shown);
	free(t);
}

/* Curses on a descriptor of its own, which is the terminal until its modes are set. */
static int start_curses(struct terminal *t, const char *name, struct err *err)
{
	int fd = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 3);

	t->curses_out = fd >= 0 ? fdopen(fd, "w") : NULL;
	if (!t->curses_out) {
		if (fd >= 0)
			close(fd);
		return err_set(err, ERR_SYSTEM, "out of descriptors or memory");
	}
	tcgetattr(STDIN_FILENO, &user_tty);
	/* A size in the environment would freeze it. */
	unsetenv("LINES");
	unsetenv("COLUMNS");
	/* Stopping is the loop's: curses keeps its hands off a signal that is taken when it starts;
	 * else it would ignore it while it draws, and a Ctrl-Z of that moment would be lost. */
	void (*stopping)(int) = signal(SIGTSTP, SIG_IGN);
	t->screen = newterm(NULL, t->curses_out, stdin);
	signal(SIGTSTP, stopping);
	if (!t->screen)
		return err_set(err, ERR_SYSTEM, "TERM=%.40s: the terminal cannot be opened", name);
	set_escdelay(25);
	cbreak();
	noecho();
	nonl();
	tcgetattr(STDIN_FILENO, &t->modes);
	t->modes.c_lflag |= NOFLSH; /* Ctrl-C and Ctrl-Z lose nothing of what was typed or
	                               answered */
	tcsetattr(STDIN_FILENO, TCSANOW, &t->modes);
	if (dup2(term_out_sink(t->out), fd) < 0) {
		endwin();
		return err_set(err, ERR_SYSTEM, "out of descriptors");
	}
	return 0;
}

int terminal_open(struct terminal **ret, struct err *err)
{
	const char *name = getenv("TERM");
	int status = 0;

	if (!terminal_is_there())
		return err_set(err, ERR_SYSTEM, "no terminal on standard input and output");
	if (!name || !name[0])
		return err_set(err, ERR_UNSUPPORTED,
		               "TERM is not set: say which terminal this is, as in TERM=vt100");
	if (setupterm(NULL, STDOUT_FILENO, &status) != OK)
		return err_set(err, ERR_UNSUPPORTED, "TERM=%.40s: this terminal is not known here; "
			"TERM=xterm or TERM=vt100 may do", name);
	const char *cup = tigetstr("cup");
	bool movable = cup && cup != (char *)-1, asks = can_be_asked();
	del_curterm(cur_term); /* newterm() makes its own */
	if (!movable)
		return err_set(err, ERR_UNSUPPORTED,
			"TERM=%.40s: the cursor of this terminal cannot be moved; use another",
			name);

	struct terminal *t = calloc(1, sizeof *t);
	if (!t)
		return err_set(err, ERR_NOMEM, "out of memory");
	t->pushed = ERR;
	if (term_out_open(&t->out, STDOUT_FILENO, asks, err) != 0 ||
	    start_curses(t, name, err) != 0) {
		release(t);
		return -1;
	}
	open_terminal = t;
	if (GUARD_CRASHES)
		guard_arm(t);
	else
		guard_armed = 1;
	static bool registered;
	if (!registered)
		registered = atexit(at_exit) == 0;
	typeahead(-1); /* a picture is drawn whole */
	keypad(stdscr, TRUE);
	nodelay(stdscr, TRUE);
	leaveok(stdscr, TRUE); /* nobody sees the cursor */
	curs_set(0);
	t->utf8 = strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
	/* The font of the Linux console has no braille and few marks. */
	t->marks = t->utf8 && strcmp(name, "linux") != 0;
	prepare_roles(t);
	*ret = t;
	return 0;
}

static int64_t now_ms(void)
{
	struct timespec now;
	clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* An answer that comes when we have gone would be typed into the shell. */
static void wait_for_answers(struct terminal *t)
{
	const int64_t until = now_ms() + ANSWERS_MS;
	struct pollfd p = {STDIN_FILENO, POLLIN, 0};
	struct stroke stroke;

	term_out_drain(t->out, GOODBYE_MS);
	while (term_out_may_answer(t->out) && now_ms() < until &&
	       poll(&p, 1, (int)(until - now_ms())) > 0 && !(p.revents & (POLLHUP | POLLERR)))
		while (terminal_key(t, &stroke))
			;
}

void terminal_close(struct terminal *t)
{
	if (!t)
		return;
	wait_for_answers(t);
	guard_armed = 0;
	if (GUARD_CRASHES)
		guard_set(SIG_DFL);
	give_back(t);
	open_terminal = NULL;
	release(t);
}

void terminal_suspend(struct terminal *t)
{
	wait_for_answers(t);
	give_back(t);
	term_out_forget(t->out);
}

void terminal_resume(struct terminal *t)
{
	if (!isendwin()) /* stopped by what nobody can catch: its screen may be anybody's */
		endwin();
	(void)tcsetattr(STDIN_FILENO, TCSANOW, &t->modes);
}

int terminal_canvas(struct terminal *t, struct canvas *ret, struct err *err)
{
	canvas_init(ret, t->utf8, t->marks);
	if (canvas_resize(ret, LINES > 0 ? LINES : 1, COLS > 0 ? COLS : 1) != 0)
		return err_set(err, ERR_NOMEM, "out of memory");
	return 0;
}

int terminal_resize(struct terminal *t, struct canvas *c)
{
	struct winsize w;
	free(t->shown); /* curses cuts and pads what it holds */
	t->shown = NULL;
	t->shown_rows = t->shown_cols = 0;
	if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &w) == 0 && w.ws_row > 0 && w.ws_col > 0)
		resizeterm(w.ws_row, w.ws_col);
	return canvas_resize(c, LINES > 0 ? LINES : 1, COLS > 0 ? COLS : 1);
}

/* --- drawing ------------------------------------------------------------------------------ */

/* Nothing of the canvas is shown yet.  Without memory every row always counts as changed. */
static void forget_shown(struct terminal *t, const struct canvas *c)
{
	const size_t n = (size_t)c->rows * (size_t)c->cols;

	if (!t->shown || t->shown_rows != c->rows || t->shown_cols != c->cols) {
		free(t->shown);
		t->shown = malloc(n * sizeof *t->shown);
		t->shown_rows = c->rows;
		t->shown_cols = c->cols;
		t->rest_from = 0;
	}
	for (size_t i = 0; i < n && t->shown; i++)
		t->shown[i].code = UINT32_MAX; /* stands on no canvas */
}

static bool row_changed(const struct terminal *t, const struct canvas *c, int row)
{
	const struct cell *is = &c->cells[row * c->cols], *was;

	if (!t->shown)
		return true;
	was = &t->shown[row * c->cols];
	for (int col = 0; col < c->cols; col++)
		if (is[col].code != was[col].code || is[col].role != was[col].role)
			return true;
	return false;
}

static void show_row(struct terminal *t, const struct canvas *c, int row)
{
	for (int col = 0; col < c->cols && col < COLS; col++) {
		const struct cell *cell = &c->cells[row * c->cols + col];
		wchar_t text[2] = {(wchar_t)cell->code, 0};
		cchar_t cc;
		if (cell->code == 0)
			continue; /* the wide character before it covers this cell */
		setcchar(&cc, text, t->attrs[cell->role], t->pairs[cell->role], NULL);
		/* The last cell returns ERR: the cursor has nowhere to go. */
		(void)mvadd_wch(row, col, &cc);
	}
}

/* The n-th row in the order of their turns, those in the middle going round; -1: there are no
 * more. */
static int nth_row(const struct terminal *t, const struct canvas *c, int n, enum part *ret_part)
{
	const int rows = c->rows < LINES ? c->rows : LINES;
	const int bottom = rows < BOTTOM_ROWS ? rows : BOTTOM_ROWS;
	const int top = rows - bottom < TOP_ROWS ? rows - bottom : TOP_ROWS;
	const int middle = rows - bottom - top;

	*ret_part = n < bottom ? PART_BOTTOM : n < bottom + top ? PART_TOP : PART_MIDDLE;
	if (n >= rows)
		return -1;
	switch (*ret_part) {
	case PART_BOTTOM:
		return rows - bottom + n;
	case PART_TOP:
		return n - bottom;
	case PART_MIDDLE:
		break;
	}
	return top + (t->rest_from + n - bottom - top) % middle;
}

bool terminal_show(struct terminal *t, const struct canvas *c, bool anew)
{
	bool lost = anew || !t->shown || t->shown_rows != c->rows || t->shown_cols != c->cols;
	enum part part, before = PART_BOTTOM;
	bool whole = true;
	int row, n_middle = 0;

	if (lost) {
		forget_shown(t, c);
		werase(stdscr);
	}
	if (anew)
		clearok(stdscr, TRUE);
	const long room = t->shown ? term_out_room(t->out) : LONG_MAX;
	for (int n = 0; whole && (row = nth_row(t, c, n, &part)) >= 0; n++) {
		/* Most rows stay as they were from one reading to the next: curses would find that
		 * out too, but only once it has taken every cell. */
		if (!row_changed(t, c, row))
			continue;
		if (room < LONG_MAX && (part != before || part == PART_MIDDLE))
			wrefresh(stdscr); /* now, or the topmost would come first */
		before = part;
		if (n_middle > 0 && term_out_waiting(t->out) >= room) {
			whole = false;
			t->rest_from = row - TOP_ROWS;
			continue;
		}
		show_row(t, c, row);
		n_middle += part == PART_MIDDLE;
		if (t->shown)
			memcpy(&t->shown[row * c->cols], &c->cells[row * c->cols],
			       (size_t)c->cols * sizeof *t->shown);
	}
	wrefresh(stdscr);
	term_out_picture(t->out);
	return whole;
}

void terminal_alarm(struct terminal *t)
{
	go_on(t);
	beep();
	(void)term_out_send(t->out);
}

bool terminal_ready(struct terminal *t)
{
	return term_out_ready(t->out);
}

int terminal_poll(struct terminal *t, bool picture_waits, double *ret_s)
{
	return term_out_wants_poll(t->out, picture_waits, ret_s) ? term_out_fd(t->out) : -1;
}

bool terminal_send(struct terminal *t)
{
	return term_out_send(t->out);
}

/* --- keys ----------------------------------------------------------------------------------- */

static int next_byte(struct terminal *t)
{
	int ch = t->pushed;

	t->pushed = ERR;
	while (ch == ERR || ch == KEY_RESIZE) {
		ch = getch();
		if (ch == ERR)
			break;
	}
	return ch;
}

/* Behind Escape [ or Escape O, the end of a sequence.  Arrows are known whichever of their two
 * forms a terminal sends. */
static bool sequence_end(struct terminal *t, int final, struct stroke *ret)
{
	static const struct {
		int final;
		enum stroke_kind kind;
	} arrows[] = {
		{'A', STROKE_UP}, {'B', STROKE_DOWN}, {'C', STROKE_RIGHT}, {'D', STROKE_LEFT},
		{'H', STROKE_HOME}, {'F', STROKE_END},
	};

	if (t->behind == BEHIND_CSI && final == 'n')
		term_out_answered(t->out);
	for (size_t i = 0; i < sizeof arrows / sizeof *arrows && t->parameters == 0; i++) {
		if (arrows[i].final == final) {
			*ret = (struct stroke){.kind = arrows[i].kind};
			return true;
		}
	}
	return false;
}

/* A byte behind an Escape.  What curses does not know (a mouse, a strange key) is swallowed to its
 * end; a key that is no part of a sequence came by itself, on a slow line, and counts. */
static bool behind_escape(struct terminal *t, int ch, struct stroke *ret)
{
	if (t->behind == BEHIND_ESCAPE && (ch == '[' || ch == 'O')) {
		t->behind = ch == '[' ? BEHIND_CSI : BEHIND_SS3;
		t->parameters = 0;
		return false;
	}
	if (t->behind == BEHIND_CSI && ch >= 0x30 && ch <= 0x3f) {
		t->parameters++;
		return false;
	}
	bool ends = t->behind != BEHIND_ESCAPE && ch >= 0x40 && ch <= 0x7e;
	bool known = ends && sequence_end(t, ch, ret);
	if (t->behind == BEHIND_ESCAPE) {
		*ret = (struct stroke){.kind = STROKE_ESCAPE};
		known = true;
	}
	t->behind = BEHIND_NOTHING;
	if (!ends)
		t->pushed = ch;
	return known;
}

/* Nothing more has come.  An Escape is the key then, unless it may begin the terminal's answer. */
static bool lone_escape(struct terminal *t, struct stroke *ret)
{
	bool is = t->behind == BEHIND_ESCAPE;

	if (t->behind == BEHIND_NOTHING || term_out_owed(t->out))
		return false;
	t->behind = BEHIND_NOTHING;
	*ret = (struct stroke){.kind = STROKE_ESCAPE};
	return is;
}

/* Collect the bytes of a character; true when it is whole. */
static bool character(struct terminal *t, int ch, struct stroke *ret)
{
	if (!t->utf8) {
		*ret = (struct stroke){STROKE_CHAR, ch < 0x80 ? (uint32_t)ch : UTF8_BAD};
		return true;
	}
	bool continues = (ch & 0xc0) == 0x80;
	if (!continues)
		t->n_partial = 0;
	if (t->n_partial == UTF8_BYTES_MAX || (continues && t->n_partial == 0))
		return false; /* a stray byte: no key of anybody's */
	t->partial[t->n_partial++] = (char)ch;
	unsigned char lead = (unsigned char)t->partial[0];
	int need = lead < 0x80 ? 1 : lead < 0xe0 ? 2 : lead < 0xf0 ? 3 : 4;
	if (t->n_partial < need)
		return false;
	const char *p = t->partial;
	uint32_t code = utf8_next(&p, t->partial + t->n_partial);
	t->n_partial = 0;
	if (code == UTF8_BAD || utf8_columns(code) < 1)
		return false;
	*ret = (struct stroke){STROKE_CHAR, code};
	return true;
}

static const struct {
	int ch;
	enum stroke_kind kind;
} known[] = {
	{'\r', STROKE_ENTER}, {'\n', STROKE_ENTER}, {KEY_ENTER, STROKE_ENTER},
	{'\t', STROKE_TAB},
	{KEY_BACKSPACE, STROKE_BACKSPACE}, {'\b', STROKE_BACKSPACE}, {0x7f, STROKE_BACKSPACE},
	{KEY_DC, STROKE_DELETE}, {KEY_LEFT, STROKE_LEFT}, {KEY_RIGHT, STROKE_RIGHT},
	{KEY_UP, STROKE_UP}, {KEY_DOWN, STROKE_DOWN}, {KEY_HOME, STROKE_HOME},
	{KEY_END, STROKE_END}, {KEY_PPAGE, STROKE_PAGE_UP}, {KEY_NPAGE, STROKE_PAGE_DOWN},
};

bool terminal_key(struct terminal *t, struct stroke *ret)
{
	for (int ch = next_byte(t); ch != ERR; ch = next_byte(t)) {
		if (t->behind != BEHIND_NOTHING) {
			if (behind_escape(t, ch, ret))
				return true;
			continue;
		}
		for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
			if (known[i].ch == ch) {
				*ret = (struct stroke){.kind = known[i].kind};
				return true;
			}
		}
		if (ch == 0x1b) {
			t->behind = BEHIND_ESCAPE;
		} else if (ch > 0 && ch < 0x20) {
			*ret = (struct stroke){STROKE_CONTROL, (uint32_t)(ch + '@')};
			return true;
		} else if (ch >= 0x20 && ch <= 0xff && character(t, ch, ret)) {
			return true;
		}
	}
	return lone_escape(t, ret);
}
