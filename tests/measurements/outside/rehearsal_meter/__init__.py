"""A meter for rehearsals: it answers what the bench says it shall, by the name of the step. INVENTED."""

API = 1
