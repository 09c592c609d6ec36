"""Checks: one module a subject; line, layout, plan and run in, findings out. Modules here do not import each other."""
