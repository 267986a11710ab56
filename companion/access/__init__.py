"""Who may do what for whom: roles, actions, one table. It knows nothing of how they are stored or asked."""

from companion.access.table import Action, Role, may

__all__ = ["Action", "Role", "may"]
