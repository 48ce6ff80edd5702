"""The animals this box knows: who they are, whatever tag they wear."""
