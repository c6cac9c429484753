#!/usr/bin/env python3
"""page.py PAGE: what a report's page promises beside valid HTML.

One file that needs nothing else (no script, nothing loaded); language and title; headings in order;
tables with captions and scopes; drawings with a name and a description; links that lead somewhere.
"""
import html.parser
import sys

VOID = {"meta", "br", "hr", "img", "link", "input"}


class Page(html.parser.HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.stack, self.faults = [], []
        self.ids, self.links, self.headings = set(), set(), []
        self.lang = self.title = self.viewport = False
        self.tables = self.figures = 0
        self.child = {}  # what the innermost table or svg has had so far

    def fault(self, text):
        self.faults.append(f"line {self.getpos()[0]}: {text}")

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag in ("script", "iframe", "object", "embed", "link", "base", "form", "img"):
            self.fault(f"<{tag}>")
        for name, value in attrs.items():
            if name.startswith("on") or name in ("src", "srcset", "style", "action", "xlink:href"):
                self.fault(f"{name}={value}")
            if name == "href" and not (value or "").startswith("#"):
                self.fault(f"a link away: {value}")
        if "id" in attrs:
            if attrs["id"] in self.ids:
                self.fault(f"id {attrs['id']} twice")
            self.ids.add(attrs["id"])
        if tag == "a":
            self.links.add(attrs.get("href", "")[1:])
        if tag == "html":
            self.lang = attrs.get("lang") == "en"
        if tag == "meta" and attrs.get("name") == "viewport":
            self.viewport = True
        if tag in ("h1", "h2", "h3", "h4"):
            level = int(tag[1])
            if level > (self.headings[-1] if self.headings else 0) + 1:
                self.fault(f"<{tag}> skips a level")
            self.headings.append(level)
        if tag == "table":
            self.tables += 1
            self.child = {"caption": 0, "thead": 0}
        if tag in self.child and self.stack and self.stack[-1] in ("table", "svg"):
            self.child[tag] += 1
        if tag == "th" and attrs.get("scope") not in ("col", "row"):
            self.fault("<th> without scope")
        if tag == "svg" and attrs.get("aria-hidden") != "true":
            self.figures += 1
            self.child = {"title": 0, "desc": 0}
            if attrs.get("role") != "img":
                self.fault("<svg> without role=img")
        if tag == "title" and "svg" not in self.stack:
            self.title = True
        if tag not in VOID:
            self.stack.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.stack.pop()

    def handle_endtag(self, tag):
        if not self.stack or self.stack.pop() != tag:
            self.fault(f"</{tag}> closes something else")
        if tag in ("table", "svg"):
            for name, n in self.child.items():
                if n != 1:
                    self.fault(f"<{tag}> with {n} <{name}>")
            self.child = {}

    def handle_data(self, data):
        for c in data:
            if (ord(c) < 32 and c != "\n") or 127 <= ord(c) < 160:
                self.fault(f"control character {ord(c):#x}")


def main():
    page = Page()
    text = open(sys.argv[1], encoding="utf-8").read()
    page.feed(text)
    page.close()
    if page.stack:
        page.fault(f"never closed: {page.stack}")
    for link in page.links - page.ids:
        page.fault(f"a link to nowhere: #{link}")
    for what in ("lang", "title", "viewport"):
        if not getattr(page, what):
            page.fault(f"no {what}")
    if page.headings.count(1) != 1:
        page.fault("not one h1")
    style = text[text.index("<style>"):text.index("</style>")]
    for word in ("url(", "@import", "http", "expression("):
        if word in style:
            page.fault(f"{word} in the style sheet")
    print(f"{page.tables} tables, {page.figures} figures, {len(page.headings)} headings")
    for fault in page.faults:
        print(fault)
    sys.exit(1 if page.faults or not page.tables else 0)


main()
