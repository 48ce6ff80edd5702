"""All of one configuration as one pure machine: links, stations, jobs and herd book, and what is asked of them."""
