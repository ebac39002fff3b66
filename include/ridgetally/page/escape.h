/*
 * Text into HTML and CSS. Everything is escaped except through the one function whose name says raw.
 */
#ifndef RIDGETALLY_PAGE_ESCAPE_H
#define RIDGETALLY_PAGE_ESCAPE_H

#include "ridgetally/base/text.h"

/* Add string as text or inside a quoted attribute value: & < > " ' ` become character references, tab and
 * line ends stay, other control characters, characters that change the writing direction, and bytes that are
 * not UTF-8 become U+FFFD each. NULL adds nothing. */
void rt_html_add(struct rt_text *html, const char *string);

/* Add markup as it is. Only for text of this program and for SVG made by the chart layer. */
void rt_html_add_raw(struct rt_text *html, const char *markup);

/* Add string as a quoted CSS string; everything but ASCII letters, digits and spaces is written as a CSS
 * escape, so that nothing can end the string or the style element. Control characters and bad bytes as in
 * rt_html_add. */
void rt_css_add_string(struct rt_text *css, const char *string);

#endif
