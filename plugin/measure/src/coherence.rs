//! coherence
