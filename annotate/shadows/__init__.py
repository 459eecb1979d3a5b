"""Heights from shadows: how far a rim or a peak stands above the ground on which its shadow ends."""
