//! Which instructions carry the lanes: the widest that the machine has, or narrower ones where a test asks for them.

use std::sync::atomic::{AtomicU8, Ordering};

/// Sets of instructions, the narrowest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Instructions {
    /// What every machine of the architecture has.
    Plain,
    /// Four numbers at once.
    Avx2,
    /// Eight numbers at once.
    Avx512,
}

/// All of them, by the number under which they are kept.
const ALL: [Instructions; 3] = [
    Instructions::Plain,
    Instructions::Avx2,
    Instructions::Avx512,
];
/// Nobody has looked yet.
const UNKNOWN: u8 = u8::MAX;
/// Those in use in this process. No figure depends on them, so it may stand apart from all arguments.
static IN_USE: AtomicU8 = AtomicU8::new(UNKNOWN);

impl Instructions {
    /// Those that this machine has, the narrowest first.
    pub fn here() -> &'static [Instructions] {
        &ALL[..=Self::widest() as usize]
    }

    /// From now on the whole process uses these, or the widest there are where it has not got them.
    ///
    /// For tests: figures are the same, to the bit, and only slower.
    pub fn use_from_now_on(self) {
        IN_USE.store(self.min(Self::widest()) as u8, Ordering::Relaxed);
    }

    /// Those in use.
    pub(crate) fn in_use() -> Self {
        let known = IN_USE.load(Ordering::Relaxed);
        if known == UNKNOWN {
            let widest = Self::widest();
            widest.use_from_now_on();
            return widest;
        }
        ALL[usize::from(known)]
    }

    #[cfg(target_arch = "x86_64")]
    fn widest() -> Self {
        let has_eight = is_x86_feature_detected!("avx512f")
            && is_x86_feature_detected!("avx512dq")
            && is_x86_feature_detected!("avx512vl")
            && is_x86_feature_detected!("avx512bw")
            && is_x86_feature_detected!("avx512cd");
        let has_four = is_x86_feature_detected!("avx") && is_x86_feature_detected!("avx2");
        match (has_four, has_eight) {
            (true, true) => Instructions::Avx512,
            (true, false) => Instructions::Avx2,
            (false, _) => Instructions::Plain,
        }
    }

    #[cfg(not(target_arch = "x86_64"))]
    fn widest() -> Self {
        Instructions::Plain
    }
}

/// A function whose body, inlined, is compiled once for each set of instructions.
macro_rules! in_widest {
    ($(#[$doc:meta])* fn $name:ident($($argument:ident: $type:ty),* $(,)?) $(-> $out:ty)? = $body:ident) => {
        $crate::batch::instructions::in_widest! {
            @each $(#[$doc])* fn $name($($argument: $type),*) $(-> $out)?, $body()()
        }
    };
    // The same with loops of known lengths unrolled where eight numbers go at once, as the body's last argument says: narrower
    // instructions would make far more code of them than they save.
    ($(#[$doc:meta])* fn $name:ident($($argument:ident: $type:ty),* $(,)?) $(-> $out:ty)? = $body:ident, unrolled) => {
        $crate::batch::instructions::in_widest! {
            @each $(#[$doc])* fn $name($($argument: $type),*) $(-> $out)?, $body(false)(true)
        }
    };
    (@each $(#[$doc:meta])* fn $name:ident($($argument:ident: $type:ty),*) $(-> $out:ty)?,
        $body:ident($($narrow:expr)?)($($wide:expr)?)) => {
        $(#[$doc])*
        fn $name($($argument: $type),*) $(-> $out)? {
            use $crate::batch::instructions::Instructions;
            use multiversion::target::target_cfg_f;
            fn plain($($argument: $type),*) $(-> $out)? {
                $body($($argument,)* $($narrow)?)
            }
            // Each is called only where the machine has its instructions, so that what they are compiled to without them is
            // but a way to what is there already.
            #[multiversion::multiversion(targets("x86_64+avx+avx2"))]
            fn four($($argument: $type),*) $(-> $out)? {
                if target_cfg_f!(target_feature = "avx2") {
                    $body($($argument,)* $($narrow)?)
                } else {
                    plain($($argument),*)
                }
            }
            #[multiversion::multiversion(targets(
                "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx512cd"
            ))]
            fn eight($($argument: $type),*) $(-> $out)? {
                if target_cfg_f!(target_feature = "avx512f") {
                    $body($($argument,)* $($wide)?)
                } else {
                    plain($($argument),*)
                }
            }
            match Instructions::in_use() {
                Instructions::Plain => plain($($argument),*),
                Instructions::Avx2 => four($($argument),*),
                Instructions::Avx512 => eight($($argument),*),
            }
        }
    };
}
pub(crate) use in_widest;

#[cfg(test)]
mod tests {
    use super::Instructions;

    #[test]
    fn what_is_asked_for_is_in_use_as_far_as_it_is_there() {
        let here = Instructions::here();
        assert_eq!(here[0], Instructions::Plain);
        for wanted in super::ALL {
            wanted.use_from_now_on();
            let most = here.last().copied().expect("one at least");
            assert_eq!(Instructions::in_use(), wanted.min(most));
        }
    }
}
