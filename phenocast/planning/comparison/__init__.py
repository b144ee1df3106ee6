"""Options of one block judged together: dates, films, cultivars and transplants."""
