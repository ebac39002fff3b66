/* Inside of intake: a cell of a foreign sheet as the native file would have it. */
#ifndef RIDGETALLY_SRC_INTAKE_CONVERT_H
#define RIDGETALLY_SRC_INTAKE_CONVERT_H

#include "ridgetally/intake/map.h"

/* Append cell, converted as the line says, to out. False, with a static reason and remedy and the cell as it is in out,
 * when it cannot be. */
bool convert_cell(const struct rt_map_line *line, const struct rt_dialect *dialect, const char *cell,
                  struct rt_text *out, const char **reason, const char **remedy);

#endif
