import { answerCalls } from '../../worker/answer-calls.ts';
import { createFileWork } from './on-worker.ts';

answerCalls(createFileWork);
