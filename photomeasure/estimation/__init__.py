"""From corners seen to views known, with their joint covariance by source. Sees no pixels."""
