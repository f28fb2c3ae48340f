//! The model of an unmarked transformer against transformers whose every figure is known: a thousand of them, read with
//! errors, a third with something that the model does not have.

mod unmarked {
    mod doubts;
    mod recovery;
    mod truth;
}
