"""Tests done only when wanted: after exercise, along the leg, waveforms, pulse volume, oxygen, category."""
