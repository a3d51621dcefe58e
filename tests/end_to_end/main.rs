//! The product from outside: the real binary, real clients, and both contracts side by side.

mod binary;
mod command_line;
mod contracts;
mod field_series;
mod grpc;
mod histories;
mod http;
mod kinds;
mod layers;
mod malformed;
mod memory;
mod mqtt;
mod overload;
mod python;
mod python_client;
mod readme;
mod records_grpc;
mod records_rest;
mod reference;
mod routes;
mod server;
mod shutdown;
mod stream;
