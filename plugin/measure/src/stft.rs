//! stft
