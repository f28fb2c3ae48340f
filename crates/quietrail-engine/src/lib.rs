//! quietrail-engine
