/* Questions to a person at a terminal. */
#include <string.h>
#include <unistd.h>

#include "cli/cmd_book.h"
#include "cli/err.h"
#include "cli/text.h"

bool sb_book_may_ask(void) {
    return isatty(STDIN_FILENO) && isatty(STDERR_FILENO);
}

bool sb_book_ask(const char *question, char *answer, size_t size) {
    char clean[1024];
    sb_text_clean(question, clean, sizeof clean);
    (void)fprintf(sb_messages(), "%s ", clean);
    (void)fflush(sb_messages());
    if (!fgets(answer, (int)size, stdin)) {
        (void)fputc('\n', sb_messages());
        return false;
    }
    size_t n = strcspn(answer, "\n");
    bool whole = answer[n] == '\n';
    while (n > 0 && answer[n - 1] == ' ')
        n--;
    answer[n] = '\0';
    return whole;
}
