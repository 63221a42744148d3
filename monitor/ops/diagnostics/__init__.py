"""The checks of ``kettleside doctor``: each returns findings, and ``diagnose`` runs them all."""
