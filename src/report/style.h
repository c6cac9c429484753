/*
 * report/style.h - how the HTML report looks: light, dark, phone and paper
 *
 * Layer: report; const data.  Colours are custom properties, set once for each scheme; the test
 * `report_contrast` reads them here and computes their contrast (WCAG 2.1 AA: 4.5 for text, 3
 * for what is drawn).
 */
#ifndef REPORT_STYLE_H
#define REPORT_STYLE_H

/* Pieces in their order; NULL ends them. */
extern const char *const report_style[];

#endif
