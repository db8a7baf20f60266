"""What the exported C stands on: refusals, checks, tables, and just enough JSON to be asked line by line."""

from __future__ import annotations

__all__ = ["CONVERSATION", "CONVERSATION_MAIN", "RUNTIME"]

RUNTIME = """
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PI 3.14159265358979323846
#define MOST_VALUES 1000

/* several readings, in order */
struct list {
    size_t count;
    double value[MOST_VALUES];
};

/* why the last inputs were refused */
static char refusal[200];

/* Every function below returns 0, or 1 when the inputs are refused. */
#define REFUSE_IF(condition, text) \\
    do { \\
        if (condition) { \\
            snprintf(refusal, sizeof refusal, "%s", text); \\
            return 1; \\
        } \\
    } while (0)
#define POSITIVE(x) REFUSE_IF(!isfinite(x) || !((x) > 0.0), #x ": a positive number is wanted")
#define NOT_NEGATIVE(x) REFUSE_IF(!isfinite(x) || !((x) >= 0.0), #x ": a number that is not negative is wanted")
#define ANY(x) REFUSE_IF(!isfinite(x), #x ": a finite number is wanted")
#define WHOLE(x) REFUSE_IF(!isfinite(x) || !((x) > 0.0) || floor(x) < (x), #x ": a positive whole number is wanted")
#define EVEN(x) REFUSE_IF(!isfinite(x) || !((x) > 0.0) || fmod(x, 2.0) > 0.0, #x ": a positive even number is wanted")
#define EACH(check, x) \\
    do { \\
        for (size_t item = 0; item < (x)->count; item++) { \\
            check((x)->value[item]); \\
        } \\
    } while (0)
#define ASCENDING(x) \\
    do { \\
        REFUSE_IF((x)->value[0] < 0.0, #x " does not ascend from zero or more"); \\
        for (size_t item = 1; item < (x)->count; item++) { \\
            REFUSE_IF((x)->value[item - 1] >= (x)->value[item], #x " does not ascend from zero or more"); \\
        } \\
    } while (0)

double sign_of(double x);
int all_equal(const struct list *readings);
double on_line(const struct list *xs, const struct list *ys, double at);

double sign_of(double x)
{
    return (double)((x > 0.0) - (x < 0.0));
}

int all_equal(const struct list *readings)
{
    for (size_t i = 1; i < readings->count; i++) {
        if (readings->value[i] < readings->value[0] || readings->value[i] > readings->value[0]) {
            return 0;
        }
    }
    return 1;
}

/* y at `at` on the straight lines through the points; not a number beyond them */
double on_line(const struct list *xs, const struct list *ys, double at)
{
    if (!(xs->value[0] <= at && at <= xs->value[xs->count - 1])) {
        return NAN;
    }
    size_t i = 1;
    while (at > xs->value[i]) {
        i++;
    }
    return ys->value[i - 1]
        + (ys->value[i] - ys->value[i - 1]) * ((at - xs->value[i - 1]) / (xs->value[i] - xs->value[i - 1]));
}
"""

CONVERSATION = """
/* ---- the conversation with "shuntref conform --command": one JSON object to a line ---- */

#define MOST_INPUTS 20

struct input {
    char name[64];
    int is_list;
    struct list values;
};

struct request {
    char kind[16];
    char name[64];
    long id;
    size_t count;
    struct input inputs[MOST_INPUTS];
};

static const char *cursor;

static int next_is(char wanted)
{
    while (*cursor == ' ' || *cursor == '\\t') {
        cursor++;
    }
    if (*cursor != wanted) {
        return 0;
    }
    cursor++;
    return 1;
}

static int read_text(char *text, size_t size)
{
    size_t length = 0;
    if (!next_is('"')) {
        return 0;
    }
    while (*cursor != '\\0' && *cursor != '"') {
        if (length + 1 < size) {
            text[length++] = *cursor;
        }
        cursor++;
    }
    text[length] = '\\0';
    return next_is('"');
}

static int read_number(double *number)
{
    char *end = NULL;
    *number = strtod(cursor, &end);
    if (end == cursor) {
        return 0;
    }
    cursor = end;
    return 1;
}

static int read_input(struct input *input)
{
    if (!read_text(input->name, sizeof input->name) || !next_is(':')) {
        return 0;
    }
    input->values.count = 0;
    input->is_list = next_is('[');
    if (!input->is_list) {
        input->values.count = 1;
        return read_number(&input->values.value[0]);
    }
    while (!next_is(']')) {
        if (input->values.count == MOST_VALUES || !read_number(&input->values.value[input->values.count++])) {
            return 0;
        }
        next_is(',');
    }
    return 1;
}

static int read_request(const char *line, struct request *request)
{
    char key[64];
    cursor = line;
    request->count = 0;
    if (!next_is('{')) {
        return 0;
    }
    while (!next_is('}')) {
        double number = 0.0;
        if (!read_text(key, sizeof key) || !next_is(':')) {
            return 0;
        }
        if (strcmp(key, "request") == 0) {
            if (!read_text(request->kind, sizeof request->kind)) {
                return 0;
            }
        } else if (strcmp(key, "name") == 0) {
            if (!read_text(request->name, sizeof request->name)) {
                return 0;
            }
        } else if (strcmp(key, "inputs") == 0) {
            if (!next_is('{')) {
                return 0;
            }
            while (!next_is('}')) {
                if (request->count == MOST_INPUTS || !read_input(&request->inputs[request->count++])) {
                    return 0;
                }
                next_is(',');
            }
        } else {
            if (!read_number(&number)) {
                return 0;
            }
            if (strcmp(key, "id") == 0) {
                request->id = (long)number;
            }
        }
        next_is(',');
    }
    return 1;
}

static inline const struct input *find(const struct request *request, const char *name)
{
    for (size_t i = 0; i < request->count; i++) {
        if (strcmp(request->inputs[i].name, name) == 0) {
            return &request->inputs[i];
        }
    }
    return NULL;
}

/* a required input is not a number when it is missing, and is then refused */
static inline double number(const struct request *request, const char *name, double otherwise)
{
    const struct input *input = find(request, name);
    return input == NULL ? otherwise : input->values.value[0];
}

#define LIST(name) \\
static const struct list *name##_of(const struct request *request) \\
{ \\
    static const struct list none = {0, {0.0}}; \\
    const struct input *input = find(request, #name); \\
    return input == NULL ? &none : &input->values; \\
}

static inline void put_number(const char *name, double value, int first)
{
    printf("%s\\"%s\\":%.17g", first ? "" : ",", name, value);
}
"""

CONVERSATION_MAIN = """
static char line[200000];
static struct request request;

int main(int count, char **words)
{
    if (count > 1 && strcmp(words[1], "--self-test") == 0) {
        return self_test() > 0 ? 1 : 0;
    }
    while (fgets(line, sizeof line, stdin) != NULL) {
        int done = 0;
        if (!read_request(line, &request)) {
            fprintf(stderr, "not understood: %s", line);
            continue;
        }
        if (strcmp(request.kind, "stop") == 0) {
            break;
        }
        if (strcmp(request.kind, "start") == 0) {
            printf("{\\"ready\\":true}\\n");
            fflush(stdout);
            continue;
        }
        for (size_t i = 0; i < sizeof functions / sizeof functions[0] && !done; i++) {
            if (strcmp(functions[i].name, request.name) == 0) {
                functions[i].run(&request);
                done = 1;
            }
        }
        if (!done) {
            printf("{\\"id\\":%ld,\\"missing\\":true}\\n", request.id);
        }
        fflush(stdout);
    }
    return 0;
}
"""
