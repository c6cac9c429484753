#!/usr/bin/env python3
"""contrast.py PAGE: contrast of the colours in a report's style sheet, in every scheme.

WCAG 2.1: text 4.5 to 1 (1.4.3, AA), what is drawn 3 to 1 (1.4.11); relative luminance and ratio as
its glossary defines them.  A rule's colour counts as text with `color` or on an SVG text, as drawn
with `stroke` or `fill` elsewhere.  Text must do on the page, on a card, and, in a figure, on the
band; lines and marks on the page and on the band.  Exempt, because they only help the eye to find
its way: the grid, the lines between rows (`border`), the fill of the band, whose edges are drawn.
"""
import re
import sys

EXEMPT = {".grid", ".band"}
TEXT_IN_FIGURE = (".tick text", ".name text", ".level")


def luminance(colour):
    """WCAG 2.1, glossary: relative luminance."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def ratio(a, b):
    """WCAG 2.1, glossary: contrast ratio."""
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def self_check():
    """Black on white is 21; #767676 on white is the known grey that just does, 4.54."""
    assert abs(ratio("#000000", "#ffffff") - 21) < 1e-9
    assert abs(ratio("#767676", "#ffffff") - 4.54) < 0.005
    assert ratio("#777777", "#ffffff") < 4.5


def schemes(css):
    """The custom properties of light, dark and print."""
    def properties(block):
        return dict(re.findall(r"--([a-z]+):(#[0-9a-f]{6})", block))
    light = properties(re.search(r":root\{([^}]*)\}", css).group(1))
    dark = properties(re.search(r"prefers-color-scheme:dark\)\{:root\{([^}]*)\}", css).group(1))
    paper = properties(re.search(r"@media print\{:root\{([^}]*)\}", css).group(1))
    return {"light": light, "dark": {**light, **dark}, "print": {**light, **paper}}


def main():
    self_check()
    page = open(sys.argv[1], encoding="utf-8").read()
    css = re.search(r"<style>(.*?)</style>", page, re.S).group(1)
    stray = re.findall(r"#[0-9a-f]{3,8}\b", re.sub(r"--[a-z]+:#[0-9a-f]{6}", "", css))
    assert not stray, f"colours outside the schemes: {stray}"
    assert "style=" not in page.replace(css, ""), "a style outside the style sheet"
    checked, bad = 0, 0
    worst = {}
    for name, colours in schemes(css).items():
        for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", css):
            rules = re.findall(r"(?:^|;)(color|fill|stroke):var\(--([a-z]+)\)", body)
            for attribute, variable in rules:
                for selector in selectors.strip().split(","):
                    if selector in EXEMPT:
                        continue
                    figure_text = selector in TEXT_IN_FIGURE
                    text = attribute == "color" or figure_text
                    grounds = ["paper", "card"] if attribute == "color" else ["paper", "band"]
                    for ground in grounds:
                        r = ratio(colours[variable], colours[ground])
                        checked += 1
                        key = (name, "text" if text else "drawn")
                        worst[key] = min(worst.get(key, 99), r)
                        if r < (4.5 if text else 3):
                            bad += 1
                            print(f"{name}: {selector} {attribute} --{variable} on "
                                  f"--{ground}: {r:.2f}")
    for (scheme, kind), r in sorted(worst.items()):
        print(f"{scheme}, {kind}: least {r:.2f}")
    print(f"{checked} pairs, {bad} too weak")
    assert checked > 100, "the style sheet was not understood"
    sys.exit(1 if bad else 0)


main()
