//! Circuits at and beyond the edge: each ends settled and balanced, or with a reason. None panics or hangs.

mod supplies;

mod robustness {
    mod edges;
    mod letting_go;
    mod random;
    mod unloaded;
    mod verdict;
}
