/* html_handover: what the files of the page share; no one else includes it.
 */
#ifndef SB_HTML_HANDOVER_H
#define SB_HTML_HANDOVER_H

#include "cli/handover.h"

/* The style sheet in pieces, ended by NULL; static storage. */
const char *const *sb_html_handover_style(void);

/* The parts of the page that grow with the log. */
typedef enum {
    SB_PART_FOUND,
    SB_PART_REMAINS,
    SB_PART_ROWS,
    SB_PART_HEARD,
    SB_PART_NOTES,
    SB_PARTS_OF_PAGE
} sb_page_part;

/* How the sheet goes on one page: how small its type is, and how many lines of each part there is
 * room for. What is beyond stands in the file and on the screen, and the paper says so. */
typedef struct {
    const char *density;            /* "", "snug" .. "dense": classes of the style */
    double columns;                 /* characters of usual width to a full line */
    double lines[SB_PARTS_OF_PAGE]; /* of paper */
    bool cut[SB_PARTS_OF_PAGE];     /* some of it is not on paper */
} sb_page_fit;

/* Lines of a heading with its space, and of the heads of a table besides. */
#define SB_PAGE_HEADING   2.0
#define SB_PAGE_ROWS_HEAD 4.5

sb_page_fit sb_html_handover_fit(const sb_handover *sheet);

/* About how many lines the text fills, of `columns` characters of usual width. */
double sb_page_lines(const char *text, double columns);

/* The same for a row of the bench. */
double sb_page_row_lines(const sb_handover_row *row, double columns);

/* The columns of a list item of a part. */
double sb_page_columns(const sb_page_fit *fit, sb_page_part part);

#endif
