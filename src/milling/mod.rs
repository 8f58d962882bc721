//! milling
