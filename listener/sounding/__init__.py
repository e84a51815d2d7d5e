"""What can be heard without a synthesiser: plucked strings, worked out sample by sample."""
