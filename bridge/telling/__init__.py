"""How the daemon tells of itself: live watchers, alerts, logs, figures, systemd."""
