/* Test rig controller (invented): speed and currents of a shunt motor, asked line by line. Right. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* the number that follows "name": in the line, or `otherwise` */
static double take(const char *line, const char *name, double otherwise)
{
    char key[80];
    snprintf(key, sizeof key, "\"%s\":", name);
    const char *found = strstr(line, key);
    return found == NULL ? otherwise : strtod(found + strlen(key), NULL);
}

static void answer(const char *line)
{
    const long id = (long)take(line, "id", -1.0);
    const int wants_currents = strstr(line, "\"name\":\"currents\"") != NULL;
    if (!wants_currents && strstr(line, "\"name\":\"speed\"") == NULL) {
        printf("{\"id\":%ld,\"missing\":true}\n", id);
        return;
    }
    const double supply = take(line, "supply_voltage", NAN);
    const double shunt = take(line, "field_resistance", NAN);
    const double shunt_rheostat = take(line, "added_field_resistance", 0.0);
    const double constant = take(line, "flux_constant", NAN);
    const double friction = take(line, "loss_torque", 0.0);
    const double torque = take(line, "load_torque", NAN) + friction;
    if (!(supply > 0.0 && shunt > 0.0 && shunt_rheostat >= 0.0 && constant > 0.0 && friction >= 0.0) || isnan(torque)) {
        printf("{\"id\":%ld,\"error\":\"no such motor\"}\n", id);
        return;
    }
    const double field = supply / (shunt + shunt_rheostat);
    const double k_phi = constant * field;
    const double armature = torque / k_phi;
    if (wants_currents) {
        printf("{\"id\":%ld,\"result\":[%.17g,%.17g,%.17g]}\n", id, field, armature, armature + field);
        return;
    }
    const double winding = take(line, "armature_resistance", NAN);
    const double rheostat = take(line, "added_armature_resistance", 0.0);
    const double brushes = take(line, "brush_drop", 0.0);
    const double direction = (double)((armature > 0.0) - (armature < 0.0));
    const double emf = supply - armature * (winding + rheostat) - brushes * direction;
    if (winding > 0.0 && rheostat >= 0.0 && brushes >= 0.0 && emf >= 0.0) {
        printf("{\"id\":%ld,\"result\":%.17g}\n", id, emf / k_phi);
    } else {
        printf("{\"id\":%ld,\"result\":%g}\n", id, NAN);
    }
}

int main(void)
{
    static char line[65536];
    while (fgets(line, sizeof line, stdin) != NULL && strstr(line, "\"stop\"") == NULL) {
        if (strstr(line, "\"start\"") != NULL) {
            puts("{\"ready\":true}");
        } else {
            answer(line);
        }
        fflush(stdout);
    }
    return 0;
}
