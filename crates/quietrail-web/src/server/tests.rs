//! Who is answered and who is refused, without a socket.
