//! The search for the worst corner against brute force: every vertex of every tolerance, and dense lines
//! through their inside where things may turn round; and tolerances that are widened.

mod brute_force {
    mod helps;
    mod jobs;
    mod ridge;
    mod search;
    mod widening;
}
