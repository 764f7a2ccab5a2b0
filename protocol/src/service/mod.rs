//! Requests and answers of the diagnostic services.
