// drop WINDOW X Y URI...: drops files on a window as a file manager does, by the drag-and-drop protocol for X, version 5
// (freedesktop.org, "Drag-and-Drop Protocol for the X Window System"). It ends with 0 once the window has taken them.
#include <X11/Xatom.h>
#include <X11/Xlib.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static Display *display;
static Window source, target;

static Atom atom(const char *name) { return XInternAtom(display, name, False); }

static void tell(const char *type, long a, long b, long c, long d) {
	XEvent e = {0};
	e.xclient.type = ClientMessage;
	e.xclient.window = target;
	e.xclient.message_type = atom(type);
	e.xclient.format = 32;
	e.xclient.data.l[0] = source;
	e.xclient.data.l[1] = a;
	e.xclient.data.l[2] = b;
	e.xclient.data.l[3] = c;
	e.xclient.data.l[4] = d;
	XSendEvent(display, target, False, NoEventMask, &e);
	XFlush(display);
}

// answer hands out what is dropped.
static void answer(XSelectionRequestEvent *r, const char *list) {
	XEvent e = {0};
	e.xselection.type = SelectionNotify;
	e.xselection.requestor = r->requestor;
	e.xselection.selection = r->selection;
	e.xselection.target = r->target;
	e.xselection.time = r->time;
	if (r->target == atom("text/uri-list")) {
		XChangeProperty(display, r->requestor, r->property, r->target, 8, PropModeReplace, (const unsigned char *)list, strlen(list));
		e.xselection.property = r->property;
	}
	XSendEvent(display, r->requestor, False, NoEventMask, &e);
	XFlush(display);
}

int main(int n, char **args) {
	static char list[1 << 20];
	if (n < 5 || !(display = XOpenDisplay(NULL))) {
		fprintf(stderr, "drop: WINDOW X Y URI..., with a display\n");
		return 2;
	}
	target = strtoul(args[1], NULL, 0);
	for (int i = 4; i < n; i++) {
		strncat(list, args[i], sizeof list - strlen(list) - 3);
		strcat(list, "\r\n");
	}
	Window root = DefaultRootWindow(display), child;
	int x, y;
	XTranslateCoordinates(display, target, root, atoi(args[2]), atoi(args[3]), &x, &y, &child);
	source = XCreateSimpleWindow(display, root, -10, -10, 1, 1, 0, 0, 0);
	XSetSelectionOwner(display, atom("XdndSelection"), source, CurrentTime);
	tell("XdndEnter", 5L << 24, atom("text/uri-list"), None, None);
	tell("XdndPosition", 0, (long)x << 16 | y, CurrentTime, atom("XdndActionCopy"));
	for (time_t end = time(NULL) + 20; time(NULL) < end;) {
		struct pollfd wait = {ConnectionNumber(display), POLLIN, 0};
		if (!XPending(display) && poll(&wait, 1, 100) <= 0)
			continue;
		XEvent e;
		XNextEvent(display, &e);
		if (e.type == SelectionRequest)
			answer(&e.xselectionrequest, list);
		if (e.type != ClientMessage)
			continue;
		if (e.xclient.message_type == atom("XdndStatus")) {
			if (!(e.xclient.data.l[1] & 1)) {
				fprintf(stderr, "drop: the window takes nothing\n");
				return 1;
			}
			tell("XdndDrop", 0, CurrentTime, 0, 0);
		}
		if (e.xclient.message_type == atom("XdndFinished"))
			return e.xclient.data.l[1] ? 0 : 1;
	}
	fprintf(stderr, "drop: no answer\n");
	return 1;
}
