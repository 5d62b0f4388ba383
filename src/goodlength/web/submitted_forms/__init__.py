"""HTML forms: one pydantic model a form, parsed once at the route; what is wrong is told field by field."""
