//! quietrail-report
