"""Pages of panwise; they show results and do no arithmetic."""
