#include "cli/json_value.h"

#include <math.h>

json_t *sb_json_number(double value) {
    return isfinite(value) ? json_real(value + 0.0) : json_null();
}

json_t *sb_json_number_if(bool known, double value) {
    return known ? sb_json_number(value) : json_null();
}
