"""Any record of answers with times, predicted answer by answer by the model and by plain methods beside it."""
