"""The weight side: from readings to stays, each begun once and ended once."""
