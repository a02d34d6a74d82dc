#include "cli/report.h"

#include "cli/complain.h"
#include "cli/json.h"
#include "cli/print.h"
#include "cli/term.h"

static void print_row(sb_report *report, const sb_page *page, const sb_task *task,
                      const sb_measurement *m) {
    if (report->rows++ == 0)
        sb_print_table_head(page, task->setting);
    sb_print_table_row(page, task, m);
    (void)fflush(page->out);
    report->any_move = report->any_move || m->answer.verdict == SB_VERDICT_MOVE;
    report->any_doubtful = report->any_doubtful || m->answer.doubtful;
}

int sb_report_measurement(sb_report *report, const sb_task *task, const sb_measurement *m,
                          const char *take) {
    sb_page page = {stdout, sb_term_styled(stdout)};
    if (report->json)
        return sb_json_measurement(stdout, task, m, take, report->partials) ? EX_OK
                                                                            : sb_complain_memory();
    if (report->table)
        print_row(report, &page, task, m);
    else
        sb_print_measurement(&page, task, m);
    if (report->partials)
        sb_print_partials(&page, m);
    return EX_OK;
}

void sb_report_end(const sb_report *report) {
    sb_page page = {stdout, sb_term_styled(stdout)};
    if (report->rows > 0)
        sb_print_table_foot(&page, report->any_move, report->any_doubtful);
}
