/* json_value: values of a JSON object that may not be known.
 */
#ifndef SB_JSON_VALUE_H
#define SB_JSON_VALUE_H

#include <jansson.h>
#include <stdbool.h>

/* A number, never -0; null for one that is not finite. NULL when out of memory. */
json_t *sb_json_number(double value);

/* The same, and null where it is not known. */
json_t *sb_json_number_if(bool known, double value);

#endif
