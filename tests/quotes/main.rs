//! Quotes from files to figures: published and constructed examples of pricing, and what holds whatever the rates.

mod examples;
mod instead;
mod pages;
mod properties;
mod rates;
mod workshop;
